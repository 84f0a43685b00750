"""The fixed sentences of the owner's paper and workbook, ready to translate."""

from __future__ import annotations

SAY = {
    "survey": "Steam trap survey",
    "title": "{}: steam trap survey",
    "a_year": "a year",
    "front_more": "And {} more, each with less.",
    "fact": "The round in figures",
    "figure": "Figure, with its range",
    "page_of": "{page} of {pages}",
    "foot": "{site}. {made}",
    "made": "Findings made on {} with survey {}.",
    "states": "How the devices stand",
    "list": "What to mend, upstream first",
    "list_intro": (
        "In this order a repair shows what it does for the units after it. A unit that is only "
        "held back by something else stands under that, not on a line of its own."
    ),
    "nothing": "Nothing in this round needs anything done.",
    "cautions": "Before anyone opens, isolates or adjusts anything",
    "device": "Device and place",
    "what": "What to do, and why",
    "explains": "Holds back: {}.",
    "rest": "The rest, in short",
    "rest_intro": "Nothing is to be done at these. The evidence for each is in the findings file.",
    "left_out": (
        "{} more repairs are left out here for want of room; they lose {} between them. All are in "
        "the findings file, and in the workbook that the same findings make."
    ),
    "rest_left_out": "{} more devices are not named here; they are in the findings file.",
    "readings": "The readings behind it",
    "basis": "What these figures rest on",
    "method": "How it was judged",
    "found": "What the instruments were found to do",
    "assumed": "Assumed, because the round or the site settings did not say",
    "noticed": "Noticed while reading the file",
    "limits": "What a survey cannot tell",
    "aside": "Readings set aside",
    "letters": (
        "No font on the machine that made this paper has {} of this round. Such a letter stands as "
        "its number, like [U+65E5]; the web page and the workbook show it. To have it here too, "
        "install a font that has it (Noto fonts have nearly all) and make the paper again."
    ),
    "tags": "Devices",
    "area": "Area",
    "state": "State",
    "aside_more": "And {} more, in the file of rows set aside.",
}
METHOD = (
    "Each device is weighed against a short list of explanations, each of which says what every "
    "reading should have been: temperatures, sound over its background, what was heard and seen, "
    "valve positions, and how the other devices of the same heater stand. The likeliest one is the "
    "verdict, with its chance of being right.",
    "The round first tells what its instruments do, and that is allowed for. Where readings do not "
    "settle a device it is left undecided, and the one reading that would settle it is named.",
    "Steam lost follows from the pressure, the bore of the seat and how far it stands open; money "
    "and carbon dioxide follow from that and from the hours under steam. A range holds the true "
    "figure eight times in ten.",
)
SHEETS = {
    "findings": "Findings",
    "work": "Work list",
    "assumptions": "Assumptions",
    "told": "What the round told",
}
WORK_HEADS = {
    "order": "Order",
    "level": "Kind of work",
    "tag": "Device",
    "place": "Place",
    "station": "Station",
    "what": "What to do",
    "why": "Why",
    "parts": "What to bring",
    "read_again": "What to read afterwards",
    "explains": "Holds back",
    "confidence": "How sure",
    "cost": "Cost a year, {}",
    "cost_low": "Cost a year, low end of the range, {}",
    "cost_high": "Cost a year, high end of the range, {}",
    "loss": "Steam lost, {}",
    "heat": "Heat that comes back, {}",
}
TOLD_HEADS = {
    "instrument": "Instrument",
    "place": "Where",
    "value": "Figure",
    "low": "Low end of the range",
    "high": "High end of the range",
    "unit": "Unit",
    "said": "What was found",
}
ABOUT_HEADS = {"about": "About", "said": "What was assumed or noticed"}
