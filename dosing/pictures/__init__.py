"""Pictures and printed sheets; heavy modules are loaded where something is drawn.

Every command: ``write_picture(draw_shop(shown_plan(plan, foam=...)), path)`` of `sheets` and `shop`
(.png, .jpg, .webp, .svg; .pdf is an A4 page), with `shown_design` and `shown_soak` for the others,
and ``write_sheet(text, draw_head(shown), path, paper)`` of `sheets` and `ribbon`, where ``text`` is
what `dosing.words.templates.render` gave; of a plan the head is ``draw_plan_head(plan)``.
"""
