"""The JSON Schemas that ship: they are those of the records, and they name every key."""

import inspect
from pathlib import Path
from runpy import run_path
from types import SimpleNamespace
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from dosing.cli.app import GROUPS, LAB, PANELS

SCRIPT = Path(__file__).resolve().parents[1] / "reference" / "build_schemas.py"
schemas = SimpleNamespace(**run_path(str(SCRIPT)))

PLAN = (
    "version title wish reached wish_met nearest nearest_delta_e needed amounts colours"
    " foam_bath_ml to_be_seen enough more_colour most_per_gram dose_g offer milder first_portion"
    " do_next strip_at_end spoons maximum_g limit_g weighed_with pours jugs look_by stop_ph"
    " activator before advised_g"
    " after after_airing later chalk bottle change_delta_e change_delta_e_low"
    " change_delta_e_high change_seen_by ph_acid_side ph_alkaline_side odds variance_shares"
    " after_acid_side after_alkaline_side ph_acid_side_airing ph_alkaline_side_airing ribbon"
    " acid_reserve_meq_l acid_reserve_high_meq_l undo_soda_g undo_soda_teaspoons undone volume_l"
    " depth_cm temperature_c vessel light bathers child_age_years next_steps accepted_reason"
    " not_for_bathing"
    " verdicts market cautions assumptions warnings accepted forbidden scale_step_g never_over_g"
    " pour_g powder_g mix_g most_by_need nothing_to_spare may_need_g correcting once_more_g"
    " portions spoons_keep_limit named_early wait_min drifts has_ribbon homes"
)
KEYS = {
    "trouble": "version complaint happened causes test seen told help_first aids expected foreseen"
    " hardly_turns"
    " swallowed poured_too_much",
    "plan": PLAN,
    "new": PLAN,
    "soak": (
        "version title bathers market volume_l depth_cm temperature_c before"
        " before_airing steps course way_back maximum_g never_over_g wish_met reached forbidden"
        " not_for_bathing verdicts assumptions warnings cautions co2_litres"
    ),
    "card": (
        "version language units title lot edition use_by accent url directions sachet_g"
        " powder first_in readings litres marks area_cm2 measured_share bathers limit dose why"
        " chance more portions first ph_low ph_high ph level colour strength_total"
        " undo_soda_g_per_g undo_soda_g_per_tsp jug_l_per_g stir_min wait_min cautions"
        " coverage made"
    ),
    "sachet": (
        "version title population homes bathers market wish limit most_past_share activator"
        " sizes sizes_given single wished_share reaching needed_g tubs_l ways"
        " best_way blends band_ph cautions verdicts assumptions recommended allowed served"
        " over_the_limit blend_serves blend_sold reached labels offer waters"
    ),
    "design": (
        "version start end volume_l depth_cm designs blocked instead needed warnings bathers"
        " verdicts allowed reached"
    ),
    "design-gallery": "version effects",
    "brew": (
        "version title volume_l market bottle_ml baths verdicts cautions amounts bottles fill"
        " planned_ml steeping kept allowed tubs"
    ),
    "product": (
        "version name edition purpose bathers dose_ml baths volume_l activator_g most_sachet_g"
        " composition not_opened active_matter_percent active_matter_mg_l before after"
        " change_delta_e commonest_word layouts limits preserving brews conflict by_market verdicts"
        " cautions assumptions best_layout"
        " do_next untested bottle_list colour_in_bottle currency open_markets shut_markets"
        " allowed"
    ),
    "product-names": "version preservatives surfactants others",
    "colours": (
        "version ladders rainbow listed spectrum warnings colourants wavelength_nm"
        " absorbance_per_cm bathable_ph beyond_screens doubt"
    ),
    "jar": (
        "version worst_step warnings check_first title by unit activator target_ph target"
        " target_met dose_g dose_before_g per_litre_g per_litre_before_g maximum_g"
        " volume_l volume_share undo_soda_g undo_soda_teaspoons bathers"
        " jugs ph_before before after alkalinity_meq_l careful_share"
        " product_buffer spare_portions correcting once_more_g"
        " gas_lost acid_scale offset_ph pigment_numbers steps left_out scatter cautions"
        " not_for_bathing verdicts market notes pka_shift consistent dose_held_back forbidden"
        " reached stopped poured pours_g scale_step_g never_over_g pour_g powder_g portions_g"
        " recipe_instrument recipe_reading why_moved volume_by_far ph_acid_side ph_alkaline_side"
        " wait_min colours foam_bath_ml"
    ),
    "jar-instructions": (
        "version title by unit target_ph aim aim_low aim_high aim_matched solution"
        " solution_water_g thinned spoonfuls solution_percent jar_l jar_g into_jar"
        " colour_times readings per_litre_before_g expected_share_of_width by_meter_g meter_tells"
        " plain fits give_up"
        " totals before_g after_g tells_little coarse in_bucket beyond_bath command verdicts"
        " colour_first useful"
        " cautions"
    ),
    "calibrate": (
        "version start pigment refused name file readings path_cm strength strength_unit"
        " strength_per_percent coverage numbers jars dropped white_cast residual residual_unit"
        " misfit surprise cost furthest doubtful nearer annotated"
    ),
    "mat": (
        "version citric_acid_g_per_kg baking_soda_g_per_kg washing_soda_g_per_kg glass_mixture_g"
        " glass_infusion_g thinned oven_c oven_minutes oven_left glasses"
        " meter_glasses infusion_thinned"
    ),
    "book-add": "cautions version entry recipe_from strip_taken lesson",
    "book-learn": (
        "version home on pours metered_days alkalinity_meq_l strength contradicts check"
        " raises_maximum file"
    ),
    "book-list": "version entries",
    "book-show": "version entry replaced_by",
    "book-due": "version today within_days items",
    "book-export": "version file entries there seal",
    "book-import": "version file entries there seal",
    "book-check": "version entries seal problems sound",
    "book-backup": "version file entries there seal",
    "book-erase": "version entry replaced_by",
    "water": (
        "version totals_mol_kg alkalinity_meq_l hardness_mmol_l hardness_class ph temperature_c"
        " hardness_ppm"
        " ionic_strength_mol_kg calcite_saturation_index imbalance_percent"
        " citric_acid_g_per_100_l assumptions warnings"
    ),
    "batch": (
        "version name edition purpose allowed why_not left_out verdict kits fill_ml filled_g"
        " makes_g loss weighings colours powders fills small_packs full_packs no_pack rounding"
        " cost no_lot record stages left_g coarse_fills tight_fills ph_moves"
    ),
    "adjust": (
        "version stock from_ph wished_ph batch_g amounts_read consistent fitted more_g more_low_g"
        " more_high_g per_100_g first_g first_ph_low first_ph_high straight_line_g takes_up_meq_kg"
        " drift notes"
    ),
    "papers": "version product purpose folder papers refused stops weighed",
    "equilibrium": "version solutions warnings",
    "equilibrium-species": "version species",
}
"""Top-level keys of each command: they stay, so a change here breaks somebody's program."""


def listed_commands() -> set[str]:
    """Commands with --json."""
    every = [("", room.COMMAND) for rooms in (*PANELS.values(), LAB) for room in rooms]
    every += [(f"{room.NAME}-", command) for room in GROUPS for command in room.COMMANDS]
    return {
        group + (one.name or one.run.__name__)
        for group, one in every
        if "as_json" in inspect.signature(one.run).parameters
    }


def test_every_command_that_answers_in_json_has_a_schema() -> None:
    assert set(schemas.DOCUMENTS) == set(KEYS)
    assert listed_commands() <= set(KEYS)
    assert {file.stem for file in schemas.FOLDER.glob("*.json")} == set(KEYS)


@pytest.mark.parametrize("command", KEYS)
def test_the_schemas_are_those_of_the_records(command: str) -> None:
    shipped = (schemas.FOLDER / f"{command}.json").read_text(encoding="utf-8")
    assert shipped == schemas.text_of(command), f"run {SCRIPT.name}"


@pytest.mark.parametrize("command", KEYS)
def test_the_schemas_name_every_key(command: str) -> None:
    schema: dict[str, Any] = schemas.schema_of(command)
    Draft202012Validator.check_schema(schema)
    assert set(schema["properties"]) == set(KEYS[command].split())
    assert schema["required"] == list(schema["properties"])


PLANNED = (
    "dose_g.low dose_g.best dose_g.high dose_g.coverage maximum_g before.ph before.hex after.ph"
    " after.hex bottle.ph bottle.hex bottle.lab bottle.hue_deg bottle.word bottle.in_gamut"
    " change_delta_e ph_acid_side ph_alkaline_side pours reached verdicts.pour verdicts.give"
    " verdicts.sell cautions.level cautions.code cautions.message cautions.source assumptions"
    " warnings.code warnings.message warnings.field homes.name homes.volume_l homes.before"
    " homes.after homes.ph homes.verdict"
)
STABLE = {
    "plan": PLANNED,
    "design": (
        "designs.colours.name designs.colours.amount designs.colours.unit designs.dose_g"
        " designs.ph_before designs.ph_after designs.ph_acid_side designs.before designs.after"
        " designs.change_delta_e designs.level reached"
    ),
    "sachet": (
        "sizes.grams sizes.turns_share sizes.does_not_turn_share sizes.past_limit_share blends"
    ),
    "jar": "alkalinity_meq_l.low alkalinity_meq_l.best alkalinity_meq_l.high dose_g per_litre_g",
    "colours": "ladders.pigment ladders.view ladders.swatches.ph ladders.swatches.hex",
    "calibrate": "strength numbers.what numbers.form numbers.best numbers.low numbers.high",
}
"""Keys that other programs were promised, however deep they stand."""


def inside(schema: dict[str, Any], whole: dict[str, Any]) -> dict[str, Any]:
    """The properties of what a schema describes, be it one, a list of it or null."""
    if "$ref" in schema:
        return inside(whole["$defs"][schema["$ref"].rpartition("/")[2]], whole)
    if "anyOf" in schema:
        return {key: one for arm in schema["anyOf"] for key, one in inside(arm, whole).items()}
    if "items" in schema:
        return inside(schema["items"], whole)
    found: dict[str, Any] = schema.get("properties", {})
    return found


@pytest.mark.parametrize("command", STABLE)
def test_promised_keys_stay(command: str) -> None:
    whole: dict[str, Any] = schemas.schema_of(command)
    for path in STABLE[command].split():
        here = whole
        for key in path.split("."):
            properties = inside(here, whole)
            assert key in properties, path
            here = properties[key]
