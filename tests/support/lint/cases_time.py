"""Plans about time: leads, windows, words, cues that want one device at once.

Where no other source stands the limits are common practice, no source: see ``tocsin.lint.limits``.
"""

from tests.support.lint.inspected import BY_HAND, BY_NAME, COSTS, GAINS, GAME, ORDERS, UNKNOWN, Case

# The window begins at 55 s of the match, 40 s into the drivers' period.
CALL = """\
[[cue]]
id = "home"
at = {at}
light = "home"
screen = "home"
{keys}
"""
AT_THE_BEGIN = """\
[[cue]]
id = "no_touch"
at = "crane.begin"
light = "no_touch"
screen = "no_touch"
"""


def quoted(text: str) -> str:
    """Return a text in quotes; one that brings a mark has its closing quote already."""
    return f'"{text}' if "#!" in text else f'"{text}"'


def call(at: str, keys: str = "", lead: str = "") -> str:
    """Return a call home at a moment."""
    return lead + CALL.format(at=quoted(at), keys=keys)


def titled(window: str) -> str:
    """Return the first lines of a plan, with a mark on the game."""
    return f'format = "tocsin-plan/1"\nname = "Bells"\ngame = "game.toml"   #! {window}\n'


def word(say: str, mark: str = "", name: str = "call", at: str = "driver.begin+10s") -> str:
    said = f'say = "{say}"' if say else ""
    return (f'[[cue]]\nid = {quoted(name)}\nat = {quoted(at)}\nlight = "home"\nscreen = "home"\n'
            f'{said}{"   #! " + mark if mark else ""}\n')  # fmt: skip


def several(count: int, mark: str = "", roles: str = '"driver"') -> str:
    cues = [f'[[cue]]\nid = "cue_{n}"\nat = "driver.begin+{4 * n}s"{mark if n == 6 else ""}\nfor = [{roles}]\n'
            'light = "over"\nsound = "steady"\nsay = "Home"\n' for n in range(count)]  # fmt: skip
    return "".join(cues)


def two(first: str, second: str, channels: str) -> str:
    """Return two cues; each text holds what goes on behind the id."""
    head = '[[cue]]\nid = "{}"\nat = "driver.begin+{}\n{}\n'
    cues = (("one", first), ("two", second))
    return "".join(head.format(name, at, channels.replace("NAME", name)) for name, at in cues)


PAD = 'for = ["coach"]\nrumble = "long"\nlight = "over"\nscreen = "step"\nsay = "Home"'
EAR = 'for = ["coach"]\nsound = "wide"\nscreen = "step"\nsay = "Home"'
WIDE = '[pattern.sound.wide]\nsteps = [ { hz = 750, lasts = "2s" } ]\n'
SEEN = 'for = ["coach"]\nlight = "NAME"\nsound = "tick"\nsay = "Home"'
LOOK = """\
[pattern.light.one]
form = "plain"
colours = ["white"]
lasts = "{0}"
[pattern.light.two]
form = "plain"
colours = ["yellow"]
lasts = "{1}"
"""

# One period and nothing at stake: an exercise on the bench.
EXERCISE = GAME.split("[[period]]")[0] + '[[period]]\nid = "driver"\nkind = "driver"\nlasts = "60s"\n'
STAKE = '[[stake]]\nid = "ladle"\ntitle = "At the ladle"\npoints = 5\nto = "us"\n'

CASES = [
    # Breaking off takes up to 3.3 s, nine times in ten; a plan's own lead `break_off` counts instead.
    Case("call_3300_ms_ahead", call("crane.begin-3.3s"), COSTS),
    Case("call_3299_ms_ahead", call('crane.begin-3.299s"    #! call_late'), COSTS),
    Case("call_on_the_begin", AT_THE_BEGIN.replace('begin"', 'begin"      #! call_late'), COSTS),
    Case("begin_only_confirms", call("crane.begin-4s") + AT_THE_BEGIN, COSTS),
    Case("lead_is_kept", call("crane.begin-break_off", lead='[lead]\nbreak_off = "5s"\n'), COSTS),
    Case("lead_is_not_kept", call('crane.begin-4.9s"    #! call_late', lead='[lead]\nbreak_off = "5s"\n'), COSTS),
    Case("lead_3300_ms", call("crane.begin-break_off", lead='[lead]\nbreak_off = "3.3s"\n'), COSTS),
    Case("lead_3299_ms", call("crane.begin-break_off", lead='[lead]\nbreak_off = "3.299s"   #! lead_short\n'), COSTS),
    # A lead that no cue names moves nothing; `break_off` and the main call's `home` are what findings go by.
    Case("lead_in_at", call("crane.begin-early", lead='[lead]\nearly = "4s"\n'), COSTS),
    Case("lead_in_until", call("crane.begin-5s", 'until = "crane.begin-early"', lead='[lead]\nearly = "1s"\n'), COSTS),
    Case("lead_in_no_cue", call("crane.begin-4s", lead='[lead]\nearly = "3s"   #! unused_lead:advice\n'), COSTS),
    Case("lead_home_without_a_main_call",
         '[lead]\nhome = "3s"   #! unused_lead:advice\n' + AT_THE_BEGIN.replace("crane.begin", "driver.end-30s")),
    Case("call_written_from_the_end", call("driver.end-24s"), COSTS),
    Case("call_for_the_coach_only", titled("window_unannounced") + call("crane.begin-4s", 'for = ["coach"]'), COSTS),
    Case("a_sign_of_life_is_no_call", titled("window_unannounced") + call("crane.begin-4s", "priority = 3"), COSTS),
    Case("call_20_s_ahead", call("crane.begin-20s"), COSTS),
    Case("call_longer_ahead", titled("window_unannounced") + call("crane.begin-20.001s"), COSTS),
    Case("call_that_still_shows", call("crane.begin-25s", 'until = "crane.begin"'), COSTS),
    Case("nothing_announces", titled("window_unannounced") + call("driver.begin+5s"), COSTS),
    Case("nothing_announces_what_gains", titled("window_unannounced:advice") + call("driver.begin+5s"), GAINS),
    Case("what_gains_needs_no_lead", AT_THE_BEGIN, GAINS),
    # What can be gained is not lost yet: there a call may come up to 5 s after the begin.
    Case("what_gains_5_s_later", call("crane.begin+5s"), GAINS),
    Case("what_gains_later", titled("window_unannounced:advice") + call("crane.begin+5.001s"), GAINS),
    Case("what_gains_when_it_is_over", titled("window_unannounced:advice") + call("crane.end"),
         GAINS.replace('end = "driver.end"', 'end = "driver.end-16s"')),
    Case("what_costs_later", titled("window_unannounced") + call("crane.begin+1s"), COSTS),
    Case("nobody_knows_what_it_costs", titled("window_unannounced:advice") + call("driver.begin+5s"), UNKNOWN),
    Case("late_for_nobody_knows_what",
         AT_THE_BEGIN.replace('begin"', 'begin"      #! call_late:advice'), UNKNOWN),
    Case("costs_by_its_name", titled("window_unannounced") + call("driver.begin+5s"), BY_NAME),
    Case("begins_with_a_period", call("driver.begin+5s"), COSTS.replace("driver.end-20s", "driver.begin")),
    Case("begins_by_hand", call("driver.begin+5s"),
         BY_HAND + COSTS[len(GAME):].replace("driver.end-20s", "driver.begin")),
    Case("in_one_order_only", titled("window_unannounced") + call("crane.begin-4s", 'when = "first"'),
         ORDERS + COSTS[len(GAME):]),
    Case("in_both_orders", call("crane.begin-4s", 'when = "first"')
         + call("crane.begin-5s", 'when = "second"').replace('"home"', '"homes"', 1), ORDERS + COSTS[len(GAME):]),
    # The way home takes the lead `home`.
    Case("home_in_time", call("match.end-home", lead='[lead]\nhome = "20s"\n')),
    Case("home_too_late", call('match.end-19.9s"    #! return_late', lead='[lead]\nhome = "20s"\n')),
    Case("home_without_a_lead", call("match.end-2s")),
    # Words that belong to others.
    *[Case(f"says_{text.lower().replace(' ', '_')}", word(text, "reserved_word:error"))
      for text in ("Stop", "Clear", "Go home", "READY", "Set down", "Safe", "Hands off")],
    Case("says_part_of_such_a_word", word("Goal")),
    Case("says_nonstop", word("Nonstop")),
    Case("named_so_and_shown", word("", name='ready"      #! reserved_word:error')),
    Case("named_so_and_not_shown", word("Home", name='go_home"      #! reserved_name')),
    # Half a second holds two syllables at five a second.
    Case("two_syllables", word("No touch")),
    Case("three_syllables", word("Everyone", "long_phrase:advice")),
    Case("silent_e", word("Home line")),
    Case("with_accents", word("Zurück")),
    Case("many_words", word("Drive home now", "long_phrase:advice")),
    # Two words stand 1 s apart.
    Case("words_1_s_apart", word("Home") + word("Swap", name="other", at="driver.begin+11s")),
    Case("words_closer", word("Home", at='driver.begin+10s"   #! hardly_shows:advice')
         + word("Swap", name="other", at='driver.begin+10.999s"   #! words_crowd')),
    Case("the_same_word_again", word("Home") + word("home", name="other", at="driver.begin+10.5s")),
    # Six cues for the driver in a match.
    Case("six_cues", several(6)),
    Case("seven_cues", several(7, "   #! many_cues:advice")),
    Case("seven_in_an_exercise", several(7), EXERCISE),
    Case("seven_in_one_period_with_stakes", several(7, "   #! many_cues:advice"), EXERCISE + STAKE),
    Case("seven_in_two_periods", several(7, "   #! many_cues:advice"),
         EXERCISE + '[[period]]\nid = "settle"\nkind = "settle"\nlasts = "3s"\n'),
    Case("seven_for_others", several(7, roles='"coach"')),
    # One pad, one loudspeaker, one screen. `long` lasts 800 ms, `wide` and `look` as written below.
    Case("pads_touch", two('10s"', '10.8s"', PAD)),
    Case("pads_overlap", two('10s"   #! cut_short', '10.799s"', PAD)),
    Case("pads_same_instant", two('10s"   #! never_plays', '10s"', PAD)),
    Case("pad_outranked", two('10s"\npriority = 9', '10.5s"   #! never_plays', PAD.replace('\nscreen = "step"', ""))),
    Case("sounds_touch", two('10s"', '12s"', EAR) + WIDE),
    Case("sounds_overlap", two('10s"   #! cut_short', '11.9s"', EAR) + WIDE),
    Case("sound_outranked", two('10s"\npriority = 9', '11s"   #! never_plays', EAR) + WIDE),
    Case("seen_for_1_s", two('10s"', '11s"', SEEN) + LOOK.format("3s", "3s")),
    Case("seen_for_less", two('10s"   #! hardly_shows:advice', '10.9s"', SEEN) + LOOK.format("3s", "3s")),
    Case("never_seen", two('10s"\npriority = 9', '10.5s"   #! never_shows', SEEN) + LOOK.format("3s", "2s")),
    Case("seen_after_the_other", two('10s"\npriority = 9', '10.5s"', SEEN) + LOOK.format("2s", "3s")),
    Case("hold_that_is_covered",
         two('10s"\nuntil = "driver.begin+30s"', '12s"\npriority = 9', SEEN) + LOOK.format("3s", "3s")),
    Case("other_pads", two('10s"', '10.2s"', PAD).replace('"coach"', '"scribe"', 1).replace('screen = "step"\n', "")
         .replace('light = "over"', 'light = "blinker"', 1) + """\
[pattern.light.blinker]
form = "plain"
colours = ["white"]
lasts = "200ms"
"""),
    Case("other_orders", two('10s"\nwhen = "first"', '10s"\nwhen = "second"', PAD), ORDERS),
    Case("a_cue_cuts_itself", """\
[[cue]]
id = "hum"
at = "driver.begin+10s"
every = "500ms"                   #! cut_short
until = "driver.begin+12s"
for = ["coach"]
rumble = "long"
screen = "step"
"""),
]
