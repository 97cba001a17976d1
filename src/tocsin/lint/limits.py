"""List every limit of the findings: its value, its words, its source.

"Common practice, no source" is a figure that practitioners agree on and nobody has published; it may be disputed.
Sources quoted from memory say so.
"""

from typing import NamedTuple

from tocsin.model.drill import OWN_ROUNDS
from tocsin.model.rig import USB_PORT_MA
from tocsin.model.safety import MAX_FLASHES, WCAG_FLASHES
from tocsin.units import NS_PER_MS, NS_PER_S

PRACTICE = "common practice, no source"


class Limit(NamedTuple):
    """A value in the unit that its name tells (0 for a plain rule), as a sentence for people, and its source."""

    value: float
    text: str
    source: str


# --- light that flashes
MOST_FLASHES = Limit(WCAG_FLASHES, "at most 3 flashes in any one second", "WCAG 2.2, SC 2.3.1")
WISE_FLASHES = Limit(
    MAX_FLASHES, "Tocsin allows 2: the risk is highest at ages 7 to 20", "Wilkins et al. 2005, second hand"
)
STILL_STRIPES = Limit(0.1, "stripes that differ in light by a tenth or more stay put", PRACTICE)

# --- how far ahead
BREAK_OFF_NS = Limit(3_300 * NS_PER_MS, "breaking off a push takes up to 3.3 s, nine times in ten", PRACTICE)
MEASURED_LEAD = Limit(
    0, "a lead is long enough 9 times of 10, by 22 or more rounds of your own (90 % sure)",
    "Wilks 1941, from memory",
)
AHEAD = Limit(0, "a call comes the lead break_off ahead, or 3.3 s where the plan has no such lead", PRACTICE)
ANNOUNCES_NS = Limit(20 * NS_PER_S, "a call more than 20 s ahead is forgotten, unless it still shows", PRACTICE)
GAINED_NS = Limit(
    5 * NS_PER_S, "where you only win points a call may come up to 5 s after the begin", PRACTICE
)
USED_LEADS = Limit(
    0, "a lead works only in cues that name it; `check` also uses break_off and home",
    "Tocsin's own file format",
)
TRAVEL = Limit(0, "the call home comes at least the plan's lead 'home' before the end", PRACTICE)

# --- drills
COUNTED = Limit(
    0, "rounds at half speed are shown and not counted: people drive another way then", "Tocsin's own file format"
)
OWN_LIMIT = Limit(
    OWN_ROUNDS, "the first {value:.0f} rounds of a crew that count set its own limit", "Tocsin's own file format"
)

# --- words
FIELD_WORDS = Limit(
    0, "stop, clear, go, ready, set, safe and hands off belong to the referees and to the robot's own stop", PRACTICE
)
LONGEST_PHRASE_NS = Limit(NS_PER_S // 2, "a call is said in half a second", PRACTICE)
SYLLABLE_NS = Limit(200 * NS_PER_MS, "five syllables a second are spoken plainly", PRACTICE)
APART_NS = Limit(NS_PER_S, "two words are at least 1 s apart", PRACTICE)
MOST_FOR_DRIVER = Limit(
    6, "a driver notices at most 6 cues in a match; a game of one period without stakes is practice", PRACTICE
)

# --- hands
SHORTEST_PULSE_NS = Limit(200 * NS_PER_MS, "a pulse of 200 ms or more can be counted", PRACTICE)
SHORTEST_GAP_NS = Limit(150 * NS_PER_MS, "pulses 150 ms or more apart can be counted", PRACTICE)
LONG_PULSE_NS = Limit(400 * NS_PER_MS, "hands feel a pulse as long from 400 ms on", PRACTICE)
WEAKEST = Limit(0.6, "busy hands feel a strength of 0.6 or more", PRACTICE)
MOST_FORMS = Limit(3, "busy hands know at most 3 different shakes", PRACTICE)
HANDS_AWAY = Limit(0, "in the autonomous period and in a pause nobody holds a pad", PRACTICE)
LAST_NS = Limit(5 * NS_PER_S, "in the last 5 s a pad gives one call at the most", PRACTICE)
LONGEST_EFFECT_NS = Limit(
    5 * NS_PER_S, "a pad vibrates for at most 5 s on end", "W3C Gamepad Extensions, from memory"
)
MOST_VIBRATION_NS = Limit(10 * NS_PER_S, "a pad vibrates for at most 10 s of a match in all", PRACTICE)

# --- senses
SENSES = Limit(2, "a call reaches drivers on two senses at least", PRACTICE)
MAIN_FOR_ALL = Limit(0, "the main call reaches everybody who drives", PRACTICE)
FELT = Limit(0, "a pad that answers 'done' may not have moved", "SDL's issues 3937 and 4072")
SIGN_OF_LIFE = Limit(3, "a cue of priority 3 or less may be missed", PRACTICE)
RIG = Limit(0, "a rig lists all that is plugged in", "Tocsin's own file format")

# --- colours
ALLIANCE = Limit(0, "red and blue are the alliances' colours", PRACTICE)
HAZARD = Limit(0, "stripes in yellow and black mark places of danger", "ISO 3864-1, from memory")
LAMPS = Limit(0, "plain green or purple looks like the field's own lamps", PRACTICE)
CONTRAST = Limit(7, "letters have a contrast of 7:1 or more", "WCAG 2.2, SC 1.4.6")

# --- clashes
ONE_AT_A_TIME = Limit(
    0, "a pad and a loudspeaker do one thing at a time: a new one replaces the old one", "SDL's joystick interface"
)
SEEN_NS = Limit(NS_PER_S, "a word or a colour is seen when it shows for 1 s", PRACTICE)

# --- sound
LOWEST_HZ = Limit(500, "tones are 500 Hz or above", "ISO 7731, from memory")
HIGHEST_HZ = Limit(2500, "tones are 2500 Hz or below", "ISO 7731, from memory")
EVACUATION = Limit(
    500 * NS_PER_MS, "three times 0.5 s on and 0.5 s off, each within 10 %, means evacuation", "ISO 8201, ANSI S3.41"
)
EVACUATION_PAUSE_NS = Limit(1_500 * NS_PER_MS, "then 1.5 s of silence", "ISO 8201, ANSI S3.41")
SAID_BEFORE = Limit(0, "a word ends before the next tone begins", PRACTICE)
QUIET = Limit(0, "a plan whose name says quiet or event makes no sound", PRACTICE)

# --- the strip's budgets
DIM_SHARE = Limit(0.1, "a strip that is dimmed to less than a tenth is hardly seen", PRACTICE)
USB_MA = Limit(
    USB_PORT_MA,
    "a USB 2 port gives 500 mA, one of USB 3 900 mA, one of a hub without its own supply 100 mA, the board included",
    "USB 2.0, 7.2.1",
)
NEVER_LIT = Limit(1, "a dark LED draws 1 mA", "measured by others, just under 1 mA")
LATE_LIGHT_NS = Limit(45 * NS_PER_MS, "sound that is 45 ms early is noticed", "ITU-R BT.1359-1")
FEWEST_FRAMES = Limit(10, "what moves needs 10 frames a second", PRACTICE)

# --- devices of packages
INSTALLED = Limit(0, "a device that a rig names comes with a package of this laptop", "Tocsin's own file format")
