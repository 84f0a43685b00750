"""From the door to a judged round: starting, the password, the first page, settings, headers."""

from __future__ import annotations

# Starting the screens and the owner's pages
SCREENS_AT = "Your screens: {address}"
PAGES_AT = "The owner's pages: {address}"
CTRL_C = "Ctrl-C stops both."
SCREENS = "screens"
OWNERS_PAGES = "owner's pages"
REFUSED = "survey: {refusal}"
TWO_PORTS = "Two ports were expected"
TWO_PORTS_FOUND = "{port} for both"
TWO_PORTS_DO = "give --port and --pages-port different numbers"
FREE_PORT = "A free port on this machine was expected"
FREE_PORT_WHERE = "{host}, port {port}"
FREE_PORT_DO = "stop what is using it, or give --{option} another number"
LATE = "The {server} were expected to answer within {seconds} s"
LATE_DO = "try again; a busy machine may need longer"
STOPPED = "The {server} were expected to keep running"
STOPPED_DO = "start the dashboard again"
NO_WORD = "no word"

# The door
DOOR = "Password of these screens"
DOOR_OPEN = "Open"
DOOR_WRONG = "That was not the password. Try again."
DOOR_NONE = "A password was expected, since the screens would be open to other machines"
DOOR_NONE_FOUND = "none"
DOOR_NONE_WHERE = "address {host}"
DOOR_NONE_DO = "set {variable} and run survey dashboard, or leave the screens on 127.0.0.1"
DOOR_SHORT = "A password of at least {least} characters was expected"
DOOR_SHORT_FOUND = "{count} characters"
DOOR_SHORT_DO = "choose a longer one, such as four unrelated words"

# The first page
START_INTRO = (
    "Give a round of readings. You get what failed, what it costs a year, and what to mend first."
)
OPEN_NOW = "Open now: {name}"
TO_THE_FINDINGS = "Go to the findings"
HOW_READ = "How its headers were read"
CLOSE_ROUND = "Close this round"
GIVE_ROUND = (
    "A round: CSV, Excel (.xlsx) or Parquet, up to {megabytes} MB. "
    "One row for each device; a tag and one reading are enough."
)
TRY_SAMPLE = "Try the sample round"

# The site's settings
SITE_SETTINGS = "Site settings: altitude, fuel price, hours"
JUDGE_AGAIN = "Judge again with these settings"
SITE_FILE = "A site file (TOML), if there is one"
SITE_FILE_IN_USE = "In use: {name}"
LEAVE_SITE_FILE = "Leave the site file out"
FROM_SITE_FILE = "the site file says {value}"
BY_DEFAULT = "not given, taken as {value}"
SITE_NAME = "Name of the site, as the owner knows it"
ALTITUDE_FT = "Altitude (ft)"
ALTITUDE_M = "Altitude (m)"
HOURS = "Hours a year under steam, where a row has none"
CURRENCY = "Currency"
PRICE_PER_MMBTU = "Fuel price for each million Btu"
PRICE_PER_GJ = "Fuel price for each GJ"
FUEL = "Fuel"
FUELS = {
    "natural_gas": "natural gas",
    "oil_no2": "light oil (No. 2)",
    "oil_no6": "heavy oil (No. 6)",
    "propane": "propane",
    "coal": "coal",
}

# How figures are written
FIGURES = "Units and numbers"
FIGURES_UNITS = "Units"
UNITS = {
    "us": "US: °F, psig, lb/h",
    "si": "SI: °C, bar, kg/h",
}
FIGURES_LOCALE = "Numbers, dates and money as in"
PLAIN_ENGLISH = "1,234.5 (plain English)"
LOCALES = {
    "en_GB": "1,234.5 (United Kingdom)",
    "de_DE": "1.234,5 (Germany)",
    "de_CH": "1’234.5 (Switzerland)",
    "fr_FR": "1 234,5 (France)",
    "es_ES": "1234,5 (Spain)",
    "it_IT": "1.234,5 (Italy)",
    "nl_NL": "1.234,5 (Netherlands)",
    "pl_PL": "1234,5 (Poland)",
    "sv_SE": "1 234,5 (Sweden)",
}
FIGURES_NOTE = (
    "They rule the screens and the reports. A findings file keeps its columns, each with "
    "its unit in its name, so that other programs can read it."
)

# The headers of a file
HEADERS_TITLE = "How your file was read"
NO_FILE = "No file is open yet."
LOOK_AT_THIS = "Look at this before the round is judged:"
NOTHING_TO_DECIDE = "Nothing in the headers needs a decision."
JUDGE = "Judge the round"
NOTICED = "Noticed in the file"
READ_AS_BEFORE = "Headers like these were confirmed before, so they were read in the same way."
READ_AFRESH = "Read them afresh"
EVERY_HEADER = "Every header"
HEADER_HEADS = ("Header", "Taken for", "First value")
KEEP_CORRECTIONS = "Keep these corrections (map file)"
GIVE_MAP = "A map file kept from an earlier round"

# Correcting a header
HEADER_AND_VALUE = "{header}   (first value: {value})"
UNIT_ASSUMED = "The unit is not in the file; {unit} was ASSUMED."
CORRECT_ANOTHER = "Correct another header"
HEADER = "Header"
COLUMN_HOLDS = "This column holds"
LEAVE_IT = "Leave it so"
RIGHT = "Yes, that is right"

# What a header is taken for, or can be
NOT_USED = "not used, kept as it is"
TARGET = "{column}: {meaning}"
TARGET_IN_UNIT = "{column}, {unit}: {meaning}"
TAKEN_IN_UNIT = "{column}, {unit}"
TAKEN_HOW = {"unit assumed": "{taken} (unit ASSUMED)", "set by map": "{taken} (as you set it)"}
GAUGE = "gauge pressure"
ABSOLUTE = "absolute pressure"
GAUGE_OR_ABSOLUTE = {
    "bar": "bar gauge",
    "bara": "bar absolute",
    "kPa": "kPa gauge",
    "kPaa": "kPa absolute",
    "MPa": "MPa gauge",
    "MPaa": "MPa absolute",
}
NO_TAG = "No header was taken for the tag. Set the one with the devices' numbers."
NO_READING = (
    "No header was taken for a reading. Set at least one temperature, pressure, "
    "sound or observation."
)
ONE_ASSUMED = "One unit was assumed: see that it is right."
MORE_ASSUMED = "{count} units were assumed: see that they are right."
NOT_CLEAR = "It is not clear what {header} holds: say which column it is, or leave it as it is."
