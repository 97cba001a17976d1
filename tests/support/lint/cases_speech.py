"""Plans that speak: words that are said in time, and words that the next tone cuts off.

Limits are common practice, no source. `steady` sounds for 250 ms, a word follows 100 ms later, and "Home" has one
syllable, for which 200 ms are reckoned: it is over 550 ms after its cue.
"""

from tests.support.lint.inspected import Case

CUE = '[[cue]]\nid = "{}"\nat = "{}"\nsound = "{}"\nrumble = "short"\n'
SAYS = 'say = "Home"\n'
MARKED = 'say = "Home"   #! speech_over_tone\n'
FIRST = CUE.format("first", "driver.begin+10s", "steady")
COACH = CUE.format("call", "driver.begin+30s", "steady") + 'for = ["coach"]\n'
RIG = """\
[[pad]]
role = "driver"
order = 1
[[pad]]
role = "operator"
order = 2
[[pad]]
role = "coach"
order = 3
[sound]
"""


def second(after_ms: int, keys: str = "") -> str:
    return CUE.format("second", f"driver.begin+{10_000 + after_ms}ms", "steady") + keys


CASES = [
    Case("a_word_is_said_before_the_next_tone", FIRST + SAYS + second(550)),
    Case("a_word_is_cut_by_the_next_tone", FIRST + MARKED + second(549)),
    Case("a_tone_of_any_priority_cuts_a_word", FIRST + MARKED + "priority = 9\n" + second(549)),
    Case("no_word_no_cut", FIRST + second(549)),
    # `rising` sounds until 420 ms, the silence at its end counts towards the gap.
    Case("a_silence_behind_a_tone_is_no_loss", FIRST.replace("steady", "rising") + SAYS + second(720)),
    Case("a_longer_tone_leaves_less", FIRST.replace("steady", "rising") + MARKED + second(719)),
    Case("a_repeated_cue_cuts_its_own_word",
         FIRST + MARKED + 'every = "520ms"\nuntil = "driver.begin+11600ms"\n'),
    Case("two_words_apart_on_the_call_and_on_the_clock",
         FIRST + SAYS + CUE.format("other", "mark.seen", "steady") + SAYS),
    # In a plan with a coach the coach says it, unless the rig wants speech.
    Case("the_coach_says_it", FIRST + SAYS + second(549) + COACH),
    Case("the_rig_speaks_beside_the_coach", FIRST + MARKED + second(549) + COACH, rig=RIG + "speech = true\n"),
    Case("the_rig_does_not_speak", FIRST + SAYS + second(549), rig=RIG + "speech = false\n"),
    Case("the_rig_speaks", FIRST + MARKED + second(549), rig=RIG),
]
