"""Pictures and printed sheets; heavy modules are loaded where something is drawn.

A picture shows, a sheet tells. ``write_picture(figure, path)`` of `sheets` saves what these draw:
`shop.draw_shop` (one vessel, before and after, of `shown_plan`, `shown_design`, `shown_soak`),
`tubs.draw_homes` and `draw_gallery`, `sachets.draw_sachet`, `ladder.draw_ladders`,
`draw_overview` and `draw_jar_rows`.
``write_sheet(text, figure, path, paper)`` typesets the text of `dosing.words.templates.render`
under a figure, for instance `ribbon.draw_plan_head` or `draw_head`; `film.write_film` films a pour.
"""
