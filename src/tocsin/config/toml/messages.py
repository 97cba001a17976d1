"""List the sentence of every mistake by its stable code: what is wrong, what is expected, what was likely meant.

``{name}`` stands for a fact of the mistake. A fact ``likely`` is the text to type in place of the marked one; the whole
corrected line then replaces the hint. Codes never change their meaning: programs read them.
"""

from tocsin.config.toml.phrases import Sentence
from tocsin.config.toml.plan_messages import PLAN_MESSAGES
from tocsin.translation import tr

_FILES = {
    "file_unreadable": Sentence("This file cannot be read: {why}.", "", "Check its name and who may read it."),
    "file_utf16": Sentence(
        "This file is saved as UTF-16.", "Expected UTF-8.", 'In the editor choose "Save as" with the encoding UTF-8.'
    ),
    "file_not_utf8": Sentence(
        "This line has a byte that is not UTF-8.", "Expected a file saved as UTF-8.",
        'In the editor choose "Save as" with the encoding UTF-8.',
    ),
    "file_large": Sentence(
        "This file has {size}, and was not read.", "Expected at most {most}.", "Is it the right file?"
    ),
    "file_empty": Sentence("This file is empty.", 'Expected format = "{format}" as its first line.', "{example}"),
    "reference": Sentence(
        "'{text}' may not be named here: {why}.",
        'Expected a bundled name, or a file such as "ours.toml" or "../games/ours.toml", here or one folder up.',
        "Copy the file there.",
    ),
    "game_unknown": Sentence(
        "There is no game '{name}'.", "Bundled are: {known}. A file beside the plan is named with its ending: x.toml."
    ),
}  # fmt: skip

_SYNTAX = {
    "syntax": Sentence(
        "This line cannot be read ({why}).", 'Expected a line such as: key = "value"', "Check quotes, brackets, commas."
    ),
    "syntax_true": Sentence("'{text}' is not how TOML writes it.", "true and false are written small."),
    "syntax_nothing": Sentence(
        "TOML has no word such as {text}.", "A key that is left out has no value.", "Delete the line."
    ),
    "syntax_leading_dot": Sentence("A number cannot begin with a point.", "Expected a digit before it."),
    "syntax_trailing_dot": Sentence("A number cannot end with a point.", "Expected a digit after it."),
    "syntax_decimal_comma": Sentence("There is a comma in a number.", "Decimals are written with a point."),
    "syntax_leading_zero": Sentence("A number cannot begin with zero.", "Expected the number without leading zeros."),
    "syntax_unquoted": Sentence("The text {text} has no quotes.", "Put texts in straight double quotes."),
    "syntax_unquoted_time": Sentence("The time {text} has no quotes.", 'Times are texts in quotes, such as "30s".'),
    "syntax_curly_quotes": Sentence("These quotes are curly.", 'Expected straight ones: "'),
    "syntax_open_quote": Sentence("A text is not closed.", "Expected a closing quote on the same line."),
    "syntax_no_open_quote": Sentence("A text has no opening quote.", "Expected one before its first letter."),
    "syntax_quotes_odd": Sentence(
        "The quotes on this line do not pair.", "Each text begins and ends with one.", "Add the quote that is missing."
    ),
    "syntax_backslash": Sentence(
        "In double quotes a backslash begins a code such as \\n.", "Put text with backslashes in single quotes."
    ),
    "syntax_key_twice": Sentence(
        "The key '{key}' is here a second time; the first is in line {first}.", "Use a key once in each table.",
        "Delete one of the two lines; or a heading such as [[cue]] is missing above this one.",
    ),
    "syntax_list_unknown": Sentence("There is no list [[{key}]] in such a file.", "Name one that exists."),
    "syntax_table_twice": Sentence(
        "The table [{key}] is here a second time; the first is in line {first}.", "Expected it once.",
        "Move these lines up to the first one and delete this heading.",
    ),
    "syntax_single_bracket": Sentence(
        "[{key}] is a list, each {key} with a heading of its own.", "Expected double brackets."
    ),
    "syntax_double_bracket": Sentence("[[{key}]] is not a list: there is one {key}.", "Expected single brackets."),
    "syntax_heading": Sentence("This heading is not closed.", "Expected [name], or [[name]] for a list."),
    "syntax_blank_in_key": Sentence("The key '{text}' has a space.", "Keys are words joined by underscores."),
    "syntax_dash_in_key": Sentence("The key '{text}' cannot be read.", "Keys are letters, digits and underscores."),
    "syntax_colon": Sentence("There is a colon between key and value.", "Expected an equals sign."),
    "syntax_equals": Sentence("There are two equals signs between key and value.", "Expected one."),
    "syntax_no_equals": Sentence("This line has no equals sign.", 'Expected: key = "value"', "A comment begins with #"),
    "syntax_no_key": Sentence(
        "There is nothing before the equals sign.", "Expected a key there.", "Write one, or delete the line."
    ),
    "syntax_no_value": Sentence(
        "The key '{key}' has no value.", "Expected a value after the equals sign.", "Write one, or delete the line."
    ),
    "syntax_comma_at_end": Sentence("There is a comma after the value.", "Lines end without one.", "Delete it."),
    "syntax_semicolon": Sentence("There is a semicolon after the value.", "Lines end without one.", "Delete it."),
    "syntax_comma_missing": Sentence("A comma is missing between two values.", "Expected a comma before this one."),
    "syntax_comma_last": Sentence(
        "There is a comma before the closing brace.", "In braces the last entry ends without one.", "Delete it."
    ),
    "syntax_comment": Sentence("Comments do not begin with {text}.", "Expected #"),
    "syntax_list_open": Sentence("The list that begins here is not closed.", "Expected ] after its last value."),
    "syntax_table_open": Sentence(
        "What begins with the brace here is not closed on this line.", "Expected all of it, and }}, on one line.",
        "Or give it a heading of its own: [{key}], and a line for each entry.",
    ),
    "syntax_two_on_a_line": Sentence(
        "Something follows the value on its line.", "Each key has its own line.", "Begin a new line here."
    ),
    "syntax_too_deep": Sentence(
        "Brackets or dotted keys are nested more than {high} deep here; no more of this file was read.",
        "No file of Tocsin's needs more than four.",
    ),
    "line_long": Sentence("This line has {count} characters; no more was read.", "Expected at most {high}."),
    "number_long": Sentence("This number has {count} digits; no more was read.", "Expected at most {high}."),
    "more_mistakes": Sentence("This file has {count} more mistakes.", "The first {most} are shown: fix these first."),
}  # fmt: skip

_SHAPE = {
    "format_missing": Sentence(
        "The key 'format' is missing.", "It tells what kind of file this is.", 'Add as first line: format = "{format}"'
    ),
    "format_other": Sentence(
        "This is a {is} file, where a {wanted} file is expected.", 'Expected format = "{format}".', "{fix}"
    ),
    "format_unknown": Sentence("This Tocsin does not know the format '{text}'.", "It knows {known}."),
    "missing": Sentence("The key '{key}' is missing in {table}.", "", "Add a line such as: {example}"),
    "unknown_key": Sentence("The key '{key}' is unknown in {table}.", "Known are: {known}."),
    "no_table": Sentence("'{key}' must be a table, but this is {is}.", "Expected {example}"),
    "no_list_of_tables": Sentence("'{key}' must be a list of tables, but this is {is}.", "Expected {example}"),
    "wrong_type": Sentence("This is {is}.", "Expected {wanted}."),
    "number_in_quotes": Sentence("The number {text} is in quotes.", "Expected it without quotes."),
    "flag_in_quotes": Sentence("'{text}' is in quotes.", "Expected true or false without quotes."),
    "not_finite": Sentence("'{text}' is not a number to count with.", "Expected a number from {low} to {high}."),
    "not_whole": Sentence("{text} is not a whole number.", "Expected a whole number from {low} to {high}."),
    "out_of_range": Sentence("{text} is too {way}.", "Expected a number from {low} to {high}."),
    "percent": Sentence(
        "{text} looks like percent.", "Expected a share from {low} to {high}: {text} percent are {share}."
    ),
    "choice": Sentence("'{text}' is not possible here.", "Expected one of: {known}."),
    "table_long": Sentence("There are {count} entries here.", "Expected at most {high}.", "Leave some out."),
    "text_empty": Sentence("The text is empty.", "Expected at least one letter.", "{fix}"),
    "text_long": Sentence("The text has {count} letters.", "Expected at most {high}.", "Shorten it."),
    "text_control": Sentence(
        "The text has a control character, probably a backslash in double quotes.",
        "Put text with backslashes in single quotes.",
    ),
    "list_empty": Sentence("The list is empty.", "Expected at least one {wanted}.", "{fix}"),
    "list_long": Sentence("The list has {count} entries.", "Expected at most {high}.", "Shorten it."),
    "listed_twice": Sentence(
        "'{text}' is in this list twice.", "Expected it once.", "Delete one of the two, or write what it should be."
    ),
    "list_as_text": Sentence("This is one text with several in it.", "Expected a list, each text in its own quotes."),
    "language": Sentence("'{text}' is not a language tag.", 'Expected a tag of BCP 47, such as "en", "de" or "pt-BR".'),
    "id": Sentence(
        "'{text}' is not an id.", "An id is small letters, digits and underscores, and begins with a letter."
    ),
    "clock": Sentence("'{text}' is not a time.", 'Expected a number with its unit, such as "30s", "250ms" or "02:30".'),
    "clock_or_own": Sentence(
        "'{text}' is not a limit.", 'Expected a time such as "2.5s", or "own": what the first rounds of a crew set.'
    ),
    "clock_unit": Sentence("The number {text} has no unit.", 'Times are texts with a unit, such as "30s" or "250ms".'),
    "clock_quotes": Sentence("The time {text} has no quotes.", 'Times are texts in quotes, such as "30s".'),
    "lead_sign": Sentence(
        "The lead {text} has a sign.", "Write it without a sign: a lead counts ahead by itself.",
        "Put + or - where the lead is used, as in no_contact.begin-break_off.",
    ),
    "ahead_sign": Sentence("The time {text} has a sign.", "Write it without a sign: it counts ahead by itself."),
    "clock_range": Sentence("The time {text} is too {way}.", "Expected a time from {low} to {high}."),
    "clock_whole_ms": Sentence(
        "The time {text} is not a whole number of milliseconds.", "Expected whole milliseconds."
    ),
    "moment": Sentence("'{text}' is not a moment.", "{expected}"),
    "moment_bare": Sentence(
        "{text} is not a moment.",
        'A moment names what it counts from, such as "driver.end-18s" or "match.begin+{text}s".'
    ),
    "colour": Sentence(
        "'{text}' is not a colour.", '{near}Expected "#rrggbb", or one of: {known}.',
        "These eight and white stay apart for colour-blind eyes.",
    ),
    "usb_ids": Sentence("'{text}' are not USB ids.", 'Expected vendor and product, such as "1209:0001".'),
    "guid": Sentence(
        "'{text}' is not a pad GUID.", "Expected 32 digits from 0 to 9 and a to f.",
        "`tocsin devices` shows the GUID of each pad that is plugged in.",
    ),
    "power_of_two": Sentence("{text} is not possible here.", "Expected one of: {known}."),
}  # fmt: skip

_RIG = {
    "key_name": Sentence("'{text}' is not a key.", "Keys are letters, digits and names such as page_down, left, plus."),
    "key_taken": Sentence(
        "The key '{text}' already does '{other}'{how}.", "A key does one thing.",
        "Take another key here, or give '{other}' another one.",
    ),
    "key_chooses_plan": Sentence(
        "The key '{text}' chooses a plan in standby.", "1, 2 and 3 are free for calls and marks only.",
        "Take another key here.",
    ),
    "key_beside_robot": Sentence(
        "The key '{text}' may not be used beside a program that drives a robot: it may start or stop one there.",
        "With drives_robot = true keys are letters, digits, arrows (left, right, up, down), page_up and page_down.",
        "Take one of these here, or write drives_robot = false if this laptop drives no robot.",
    ),
    "realtime_beside_robot": Sentence(
        "Real-time priority could disturb the program that drives the robot.",
        'With drives_robot = true expected "ordinary" or "raised".',
        "If this laptop drives no robot, write drives_robot = false.",
    ),
    "not_callable": Sentence(
        "The cue '{text}' may not be given by hand.", "Cues to be called by hand: {known}.",
        "Write callable = true in its [[cue]] in the plan.",
    ),
    "pad_names_nothing": Sentence(
        "This pad does not say which one it is.", "Expected one of usb, guid, name or order.",
        "Add a line such as: order = 1",
    ),
    "pad_twice": Sentence(
        "This is the same pad as in line {first}.", "Expected each pad once.",
        "Give it another order, or take one of the two away.",
    ),
    "button_number": Sentence("'{text}' is not a button.", "Buttons are numbers from 0 to 63."),
    "button_action": Sentence("A button cannot do '{text}'.", "Expected one of: {known}."),
    "port": Sentence(
        "'{text}' is not a serial port.",
        'Expected "auto", or a port such as "COM5", "/dev/ttyUSB0" or "/dev/cu.usbserial-10"; no file and no URL.',
        "`tocsin devices` lists the ports of this laptop.",
    ),
    "no_port_no_usb": Sentence(
        'port = "auto" looks the strip up by its USB ids, but usb is missing.', "Expected usb or another port.",
        'Add a line such as: usb = "1209:0004" (`tocsin devices` shows the ids)',
    ),
    "device_name": Sentence(
        "'{text}' cannot be the name of a device.", "Expected letters, digits, and . _ - between them.",
        "`tocsin devices` lists the devices that packages of this laptop bring.",
    ),
    "device_beside": Sentence(
        "'{key}' says nothing here: the device \"{device}\" of a package is meant.", "Expected one of the two.",
        "Delete this line, or the line with device.",
    ),
}  # fmt: skip

_DRILL = {
    "drill_names_nothing": Sentence(
        "There is no {kind} '{name}'.", "Bundled are: {known}. A file beside the drill is named as x.toml."
    ),
    "drill_lead": Sentence("The plan {plan} has no lead '{name}'.", "Its leads are: {known}."),
    "drill_shift": Sentence(
        "With the lead '{name}' moved so far, the plan {plan} cannot be played.", "{why}", "Take a shorter shift."
    ),
    "drill_games": Sentence(
        "The plan {name} is for the game {game}, but another plan for {first}.",
        "Expected plans of one game: rounds of two cannot be compared.", 'Or add a line such as: game = "casting_day"',
    ),
    "drill_plan_not_dealt": Sentence(
        "No round gets the plan '{name}'.", "Expected one of [vary] plan: {known}.",
        "It is the one that others are compared with.",
    ),
    "plan_lacks_lead": Sentence(
        "This plan has no lead '{name}', which the drill {drill} moves.", "Its leads are: {known}.",
        'Add below [lead]: {name} = "4s"',
    ),
    "game_lacks_window": Sentence(
        "This game has no window '{name}', where the drill {drill} keeps robots off.",
        "Its windows are: {known}.", "In a copy of the drill name one of them in keep_off.",
    ),
    "game_lacks_moment": Sentence(
        "This game has no {text}, where rounds of the drill {drill} begin.", "Expected {expected}.",
        "In a copy of the drill write another moment in from.",
    ),
    "drill_shift_without_lead": Sentence(
        "These shifts move no lead.", "Say which lead they move: {known}.",
        'Add a line such as: lead = "break_off"'
    ),
    "drill_false_cues": Sentence(
        "Cues in random order are false cues: on the field a robot would follow them.",
        'Expected shuffle = false, or place = "bench".',
    ),
    "drill_half_speed": Sentence("{count} rounds at half speed, of {high} in all.", "Expected at most {high}."),
    "drill_no_questions": Sentence(
        "A drill on the field asks no safety questions.", "Write what must be sure before a robot moves.",
        'Add a line such as: questions = ["Does everybody wear safety glasses?", "Who holds the stop?"]',
    ),
    "drill_goal": Sentence("More clean rounds than rounds.", "Expected at most {high}."),
    "drill_spread": Sentence(
        "Rounds cannot begin that long before {text}.", "Expected a moment of the match behind the spread.",
        "Take a shorter from_spread.",
    ),
}  # fmt: skip

_PROJECT = {
    "person_key": Sentence(
        "'{text}' is not a person's key.",
        "Expected a key of 8 digits and letters a to f: a file that you may pass on has no names.",
        "Take the line out; `tocsin run --who driver=NAME` keeps the name on this laptop, and says the line to write.",
    ),
    "runs_folder": Sentence(
        "'{text}' cannot be the folder of runs: {why}.", "Expected a folder inside the project's, such as \"runs\".",
        "For another place leave the line out, and write `--runs DIR`.",
    ),
    "second": Sentence(
        "These are not points for a second.", "Expected two numbers from 0 to {high}, the smaller first: [0.5, 1.0]."
    ),
    "project_names_nothing": Sentence(
        "There is no {kind} '{name}'.", "{expected}", "`tocsin init DIR` writes examples to begin with.",
    ),
    "project_names_other": Sentence(
        "'{name}' is a {is} file, where a {wanted} file is expected.", "Expected a file with format = \"{format}\"."
    ),
}

_ALL = {**_FILES, **_SYNTAX, **_SHAPE, **PLAN_MESSAGES, **_RIG, **_DRILL, **_PROJECT}
MESSAGES: dict[str, Sentence] = {code: Sentence(*map(tr, sentence)) for code, sentence in _ALL.items()}
