"""The fixed sentences of the owner's page, apart from the page's shape, ready to translate."""

from __future__ import annotations

SAY = {
    "survey": "Steam trap survey",
    "skip": "Skip to the findings",
    "contents": "On this page",
    "round_of": "Read",
    "a_year": "a year",
    "facts": "The round in figures",
    "fact_cost": "Cost of steam lost, a year",
    "fact_loss": "Steam lost",
    "fact_co2": "Carbon dioxide from it, a year",
    "fact_to_do": "Devices that need something",
    "fact_judged": "Devices judged",
    "range_note": "In brackets: the range that holds the true figure eight times in ten.",
    "states_heading": "How the devices stand",
    "first_heading": "What to do first",
    "first_out": "Stop the steam that goes out",
    "first_held": "Get heat to where it is missing",
    "first_held_intro": (
        "These lose little or no steam, so they weigh little in the figures. They show as cold "
        "rooms, long warm-up, knocking pipes and heaters that rust from standing water."
    ),
    "first_undecided": "Take one more reading",
    "first_none": "Nothing in this round needs anything done.",
    "cautions_heading": "Before anyone opens, isolates or adjusts anything",
    "where_heading": "Where the money goes",
    "where_heading_steam": "Where the steam goes",
    "where_range": (
        "The thin line under a bar is its range. Ranges of single devices are added up here as if "
        "their errors all went the same way, so they are rather too wide than too narrow."
    ),
    "where_none": "No steam loss to speak of was found, so there is nothing to divide up.",
    "as_table": "The same as a table",
    "worst_heading": "The devices that lose most",
    "worst_key": "Dots are what was read; upright lines are steam temperatures to compare with.",
    "others_heading": "Vents, breakers and check valves that need attention",
    "others_none": "Every air vent, vacuum breaker and check valve that was read is in order.",
    "others_not_read": "No air vent, vacuum breaker or check valve is shown on this page.",
    "all_heading": "Every device, with its evidence",
    "all_intro": "Open a line to see what was read and why it was judged as it was. By loss, with "
    "the vent or check valve that explains a trap right before it.",
    "brief_heading": "The rest, in short",
    "aside_heading": "Readings set aside",
    "aside_none": "Nothing was set aside: every row that is shown here was judged.",
    "only_areas": "This page shows a part of the round: {}. All counts and sums are of that part.",
    "basis_heading": "What these figures rest on",
    "assumptions": "Assumed, because the round or the site settings did not say",
    "no_assumptions": "Nothing had to be assumed.",
    "calibration": "What the round shows of its own instruments",
    "notes": "Noticed while reading the file",
    "limits": "What a survey cannot tell",
    "action": "What to do",
    "evidence": "Why",
    "readings": "What was read",
    "doubts": "Doubts",
    "note": "Technician's note",
    "filter": "Sort and filter",
    "search": "Search",
    "sort": "Order by",
    "sort_worst": "Loss",
    "sort_sure": "Certainty",
    "sort_tag": "Number",
    "sort_place": "Place",
    "area": "Area",
    "state": "State",
    "kind": "Device",
    "every": "All",
    "and_more": "And {} more.",
    "low_to_high": "{} to {}",
    "one_device": "device",
    "more_device": "more device",
    "more_place": "more place",
    "more_row": "more row",
    "more_here": "And {} here.",
    "and_these": "And {}, in",
    "whole_list": "the whole list",
    "each_does": "Each {} {}.",
    "tags_more": "; and {} more",
    "brief_intro": (
        "{} shown whole above, the worst first. The evidence for the others is in the findings "
        "file; they lose {} between them."
    ),
    "next_to_nothing": "next to nothing",
    "hidden": "{} not named here",
    "hidden_why": "for want of room; they lose {} between them, and are in the findings file.",
    "aside_table": "Readings set aside, row by row",
    "aside_more": "And {}, in the file of rows set aside.",
    "made_with": "Findings made on {} with survey {}.",
    "made_on": "Findings made on {}.",
    "made_by": "With survey {}.",
}
LIMITS = (
    "The readings were taken once. A device can change its ways the next day, and some only show "
    "a fault at start-up or under full load.",
    "Steam lost is reckoned from pressure, the bore of the seat, temperature and sound. It is not "
    "metered, which is why each figure has a range.",
    "A verdict is the best supported explanation of the readings, with the chance of its being "
    "right beside it. Opening the device can still prove it wrong.",
    "Only steam that leaves is counted. Heat that does not arrive, water hammer and rust are not "
    "in the figures.",
)
COLUMN_HEADS = {
    "area": "Area",
    "cause": "Cause",
    "station": "Station",
    "devices": "Devices",
    "to_do": "To do",
    "cost": "Cost a year",
    "range": "Range",
    "device": "Device",
    "state": "State",
    "count": "Number",
    "meaning": "What it means",
    "row": "Row",
    "column": "Column",
    "value": "Value",
    "reason": "Reason",
    "repaired": "Repaired",
    "share": "Share of the loss",
    "last": "Last one",
    "cost_in": "Cost a year, {}",
    "loss_in": "Steam lost, {}",
    "share_so_far": "Share of the loss so far",
    "units": "Devices, worst first",
    "trap_type": "Trap type",
    "no_type": "Type not given",
    "no_station": "No station given",
    "expected": "Expected, {} under its steam",
    "of_expected": "{} of {} within band",
    "read": "Read",
    "within": "Within the band",
    "colder": "Colder",
    "hotter": "Hotter",
    "middle_below": "Middle one, {} under its steam",
    "middle_db": "Middle one, dB over background",
    "range_db": "8 in 10, dB",
    "instrument": "Instrument",
    "reads_low": "Reads low by",
    "found": "What was found",
}
PICTURES = {
    "heading": "The readings behind it",
    "intro": "A mark is a device. Its shape says how it was judged, as its colour does.",
    "temperatures": "Inlet temperatures against steam",
    "temperatures_said": (
        "Of {} whose inlet and pressure are known, {} stand where a working trap of their type "
        "should: in the shaded band, which holds eight in ten of them. At 0 an inlet is as hot as "
        "its steam; to the right it is colder."
    ),
    "and_colder": "{} or more",
    "sound": "Sound over the background, by state",
    "sound_said": (
        "{} were heard. The figure is the middle one of a state; the line holds eight in ten."
    ),
    "sound_open": (
        " In the middle, working traps stand {} dB over their background and blown-open ones {} dB."
    ),
    "each_mark": " Each mark is one of them.",
    "some_marks": " {} marks stand for {}.",
    "calibration": "How low the thermometers read",
    "calibration_said": (
        "{} reads lowest, {} short of the way to steam temperature. It is allowed for in "
        "every verdict. The line is the range, eight times in ten."
    ),
    "calibration_true": "None reads low. The line is the range, eight times in ten.",
    "pareto": "The dearest devices",
    "pareto_said": "The first {} carry {} of the whole loss between them.",
    "tree": "What is behind it, by reducing station",
    "tree_said": "{} to see to, at {}; the most at {}: {}.",
}
