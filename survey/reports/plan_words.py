"""What is said once on every pressure plan."""

from __future__ import annotations

from survey.reports.words import CAUTION_POINTS

STEP_CAUTIONS = (
    *CAUTION_POINTS,
    "A heater that cools as its pressure goes pulls a vacuum, and holds its condensate with it: "
    "see that its vacuum breaker works before the first step.",
    "Controls, traps, cut-outs and safety valves have a least pressure they work at, and boilers "
    "one they are run at: ask whoever answers for them before each step.",
    "Only licensed people set a reducing station. Every option named here for freeing a unit is "
    "for them to judge.",
)
STEP_ORDER = (
    "Mend what is on the list of things to mend first: a unit that is cold or backed up today "
    "tells nothing at a lower pressure.",
    "Read every unit that is to be watched once more, so that there is something to compare with.",
    "Go down one step, slowly, while the heaters call for heat and somebody is there to see. "
    "Never two stations on one day.",
    "Wait as long as the step says, through at least one cold start. Then read the station, its "
    "return, and the units to be watched; better all of them, and hand the round to "
    "'survey pressure' with --after.",
    "Go on only when every unit that had to be seen has held.",
)
STOP_RULES = (
    "Stop and go back one step if any unit is under its band for an hour while it calls for heat.",
    "Stop and go back if pipes hammer, if the return's pressure rises, or if a control, cut-out "
    "or safety valve acts.",
    "Stop if somebody is cold, or a process runs slow, that did not before.",
    "Stop if more units flood than were foreseen: something in the plan is not as it was taken.",
)
STANDING_WORDS = {
    "to_target": "can go down to the pressure asked for",
    "part_way": "can go down part of the way",
    "stay": "stays where it is, as things stand",
    "already_there": "is there already",
    "cannot_tell": "cannot be told",
    "go_back": "has to go back",
    "wait": "waits where it is",
}
MOST_URGENT = ("go_back", "wait")
"""Standings that are said before all others, in this order."""
NO_CHANCE = "under 1 %"
ASIDE_SHORT = (
    "{rows} set aside when the round was read {are} not planned for: read {them} before any step."
)
ASIDE = (
    "{rows} set aside when the round was read: {names}. {they} not planned for. Read {them} "
    "before any step."
)
ASIDE_ELSEWHERE = (
    "{rows} set aside when the round was read may be of any station here: {names}. {they} not "
    "planned for. Read {them} before any step."
)
ASIDE_AT_STEP = "{rows} set aside {are} not in these figures: read {them} first."
ROW = ("row", "rows")
THEY = ("It is", "They are")
THEM = ("it", "them")
ARE = ("is", "are")
AND_MORE = "{names} and {count} more"
STEPS_CAPTION = "The steps"
STEPS_HEADS = ("step", "down to", "wait", "watch these", "units held back by the pressure")
STEP_PRESSURE = "{pressure} (the gauge will show {gauge})"
STEP_WAIT = "{hours} hours"
STEP_BACK = "{expected} expected ({low} to {high}), {today} today"
NONE_TO_WATCH = "none likelier than the rest"
