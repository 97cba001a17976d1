"""List every finding by its stable code: the sentence, the reason, the fix, and its limits.

``{name}`` stands for a fact of the finding. Codes never change their meaning: programs read them.
"""

from tocsin.lint import limits as limit
from tocsin.lint.drills import KINDS_OF_DRILLS
from tocsin.lint.finding import Kind, Level
from tocsin.translation import tr

_BAD: tuple[Level, ...] = ("error",)
_WARN: tuple[Level, ...] = ("warning",)
_TELL: tuple[Level, ...] = ("advice",)

_FLASHING = {
    "flash": Kind(
        ("error", "warning"),
        "{cues} would make the {device} flash {flashes} times in the second that begins {when} ({changes} changes "
        "between bright and dark), on {area}.",
        "Fast flashing can cause a seizure. Devices slow it down, so it will not look as written.",
        "Take a longer cycle, or more time between the cues: at most two flashes in a second.",
        (limit.MOST_FLASHES, limit.WISE_FLASHES),
    ),
    "red_flash": Kind(
        ("error", "warning"),
        "{cues} would make the {device} flash {flashes} times in red in one second {when}, on {area}.",
        "Flashing red causes seizures most easily. Devices slow it, so it will not look as written.",
        "Take another colour: yellow, orange, sky_blue or white.",
        (limit.MOST_FLASHES, limit.WISE_FLASHES),
    ),
    "moving_stripes": Kind(
        _WARN,
        "The light pattern '{pattern}' lets stripes run along the strip.",
        "Stripes that move disturb more than still ones, and may do harm as flashing does.",
        'Write: form = "bands", or "shuttle" for one block that moves.',
        (limit.STILL_STRIPES,),
    ),
}

_LEADS = {
    "lead_short": Kind(
        _WARN,
        "The lead '{lead}' is {lasts}: a robot that pushes does not get away in that time.",
        "Noticing, braking and opening a gap take their time, and the clock is not exact.",
        "Take {least} or more, or measure what your drivers need.",
        (limit.BREAK_OFF_NS,),
    ),
    "lead_below_runs": Kind(
        _WARN,
        "The lead '{lead}' is {lasts}, but by your {rounds}, 9 times in 10 you need up to {least}.",
        "What your own drivers have shown counts for more than any estimate.",
        "Take {least} or more. `tocsin advise` says what a lead costs, and what it wins.",
        (limit.MEASURED_LEAD,),
    ),
    "lead_few_rounds": Kind(
        _TELL,
        "The lead '{lead}' is {lasts}. Your {rounds} are too few to know what you need: play {more} more. The longest "
        "so far took {least}.",
        "After a few rounds a longer one often comes: do not rely on the longest.",
        "Mark more rounds. Until then take at least your longest, {least}.",
        (limit.MEASURED_LEAD,),
    ),
    "unused_lead": Kind(
        _TELL,
        "No cue uses the lead '{lead}'.",
        "If you change it, you may expect calls to move, but none does.",
        'Use it in a cue, such as: at = "driver.end-{lead}". Or delete the line.',
        (limit.USED_LEADS,),
    ),
    "return_late": Kind(
        _WARN,
        "The call '{cue}' comes {left} before the end, but the way home takes {least}.",
        "Who hears it then comes too late.",
        "Let it come {least} before the end, such as: at = \"match.end-home\"",
        (limit.TRAVEL,),
    ),
    "call_late": Kind(
        ("warning", "advice"),
        "The first call for '{window}' is '{cue}', and it comes {how}.",
        "The rule applies from the window's begin on: a call must leave time to break off.",
        "Let it, or another cue, come {least} or more before the window begins.",
        (limit.AHEAD, limit.ANNOUNCES_NS),
    ),
    "window_unannounced": Kind(
        ("warning", "advice"),
        "No cue announces '{window}'{whom}.",
        "Nobody watches a clock under pressure: what is not called is missed.",
        "Add a cue that comes shortly before {id}.begin.",
        (limit.ANNOUNCES_NS, limit.GAINED_NS),
    ),
}

_WORDS = {
    "reserved_word": Kind(
        _BAD,
        "The cue '{cue}' says '{word}'.",
        'People may read it as "go in" or "it stopped", and walk up to a moving robot.',
        "Take a word for what drivers do: Home, No touch, Last one.",
        (limit.FIELD_WORDS,),
    ),
    "reserved_name": Kind(
        _WARN,
        "The cue's id '{cue}' has the word '{word}'.",
        "The id is not shown here, but people use it when they talk about the plan.",
        "Name it for what drivers do, such as home or no_touch.",
        (limit.FIELD_WORDS,),
    ),
    "long_phrase": Kind(
        _TELL,
        "'{word}' takes about {takes} to say.",
        "A long call ends too late to help. (An estimate by syllables.)",
        "Take one or two syllables.",
        (limit.LONGEST_PHRASE_NS, limit.SYLLABLE_NS),
    ),
    "words_crowd": Kind(
        _WARN,
        "'{word}' comes {gap} '{other}', {when}.",
        "Nobody can read two words at once.",
        "Put them 1 s or more apart, or give one without a screen.",
        (limit.APART_NS,),
    ),
    "many_cues": Kind(
        _TELL,
        "The driver gets cues at {count} moments: too many from '{cue}' on.",
        "If you are called all the time you miss the call that matters.",
        'Take some away, or give them to others: for = ["operator", "coach"]',
        (limit.MOST_FOR_DRIVER,),
    ),
}

_HANDS = {
    "short_pulse": Kind(
        _WARN,
        "A pulse of the rumble pattern '{pattern}' lasts {lasts}.",
        "A motor takes 60 to 150 ms to spin up: so short a pulse is hardly felt, and not counted.",
        "Let each pulse last 200 ms or longer.",
        (limit.SHORTEST_PULSE_NS,),
    ),
    "short_gap": Kind(
        _WARN,
        "Only {gap} between two pulses of the rumble pattern '{pattern}'.",
        "A motor takes 100 to 200 ms to stop: both pulses are felt as one buzz.",
        "Let each pause last 150 ms or longer.",
        (limit.SHORTEST_GAP_NS,),
    ),
    "weak_pulse": Kind(
        _WARN,
        "A pulse of the rumble pattern '{pattern}' has a strength of {strength}.",
        "Hands that steer a robot do not feel it.",
        "Take 0.8 or more on one of the two motors.",
        (limit.WEAKEST,),
    ),
    "weak_pad": Kind(
        _WARN,
        "The rumble pattern '{pattern}' has only strength {strength} on the {role}'s pad.",
        "The rig's strength times the pattern's is too weak: hands that steer do not feel it.",
        "Raise this strength, or that of the pattern.",
        (limit.WEAKEST,),
    ),
    "long_effect": Kind(
        _WARN,
        "A pulse of the rumble pattern '{pattern}' lasts {lasts}.",
        "The hand stops feeling it, and others that play the plan, such as the page, cut it.",
        "Take several shorter pulses.",
        (limit.LONGEST_EFFECT_NS,),
    ),
    "much_vibration": Kind(
        _TELL,
        "{whose} pad vibrates for {lasts} of the match in all.",
        "Hands stop feeling it, and what comes often is not noticed.",
        "Take shorter patterns, or fewer cues that rumble.",
        (limit.MOST_VIBRATION_NS,),
    ),
    "many_forms": Kind(
        _WARN,
        "{whose} pad has {count} different shakes: too many from '{cue}' on.",
        "Busy hands cannot tell them apart, and mistake the main call too.",
        "Use one of the other patterns again: triple, long, short.",
        (limit.MOST_FORMS, limit.LONG_PULSE_NS),
    ),
    "hands_away": Kind(
        _WARN,
        "The cue '{cue}' shakes a pad in {where}, {when}.",
        "The pads are on a shelf then: nobody feels it, and a pad may fall.",
        "Take rumble away, and call by screen or sound there.",
        (limit.HANDS_AWAY,),
    ),
    "press_too_early": Kind(
        _WARN,
        "The cue '{cue}' says '{word}' in {where}, {when}.",
        "In most games it breaks a rule to touch a pad in the autonomous period.",
        "Let it come when the drivers' period begins.",
        (limit.HANDS_AWAY,),
    ),
    "ticking_pad": Kind(
        _WARN,
        "{whose} pad rumbles {count} times in the last seconds; the second is '{cue}'.",
        "Hands have work to do then, and a pad that ticks disturbs them.",
        "Count down for the coach, on screen or by sound.",
        (limit.LAST_NS,),
    ),
}

_SENSES = {
    "rumble_alone": Kind(
        _WARN,
        "The cue '{cue}' is only felt: rumble is all that carries it.",
        "With a loose grip you miss it, and nobody sees that it failed.",
        "Add light, screen or sound. If it may be missed, write: priority = 3",
        (limit.FELT, limit.SENSES, limit.SIGN_OF_LIFE),
    ),
    "one_sense": Kind(
        _WARN,
        "The cue '{cue}' has one channel only ({does}).",
        "Under pressure one signal gets lost; several together get through.",
        "Add another channel. If it may be missed, write: priority = 3",
        (limit.SENSES, limit.SIGN_OF_LIFE),
    ),
    "role_left_out": Kind(
        _WARN,
        "The main call '{cue}' leaves out the {role}, whose pad gives '{other}'.",
        "Who does not get the main call works against those who do.",
        'Write: for = ["driver", "operator"]',
        (limit.MAIN_FOR_ALL,),
    ),
    "rig_lacks": Kind(
        _TELL,
        "The plan '{plan}' also asks for what this rig does not have: {missing}.",
        "Those channels stay silent. The others go on.",
        "Add what is missing to the rig if you have it.",
        (limit.RIG,),
    ),
    "reaches_nobody": Kind(
        _WARN,
        "This rig has no channel for the cue '{cue}'.",
        "It is given, and nobody notices.",
        "Add a channel that the rig has, or the device to the rig.",
        (limit.RIG, limit.SIGN_OF_LIFE),
    ),
}

_COLOURS = {
    "alliance_colour": Kind(
        _WARN,
        "The pattern '{pattern}' fills the {device} with {colour}.",
        "From far away it looks like an alliance sign.",
        "Take yellow, orange, sky_blue or white, or stripes with one of them.",
        (limit.ALLIANCE,),
    ),
    "lamp_colour": Kind(
        _WARN,
        "The pattern '{pattern}' fills the {device} with plain {colour}.",
        "People may think it is the field's sign, and walk on the field.",
        "Take yellow, orange, sky_blue or white, or stripes with one of them.",
        (limit.LAMPS,),
    ),
    "faint_letters": Kind(
        _WARN,
        "The letters of the screen pattern '{pattern}' have a contrast of {ratio}:1 on their black plate.",
        "At 5 m, in bright halls, they cannot be read.",
        "Take white, yellow, orange or sky_blue.",
        (limit.CONTRAST,),
    ),
}

_CLASHES = {
    "never_plays": Kind(
        _WARN,
        "On {where} '{cue}' is never {never} {when}: it loses to {rival}.",
        "A cue that lost does not come later.",
        "Move one of the two, or give '{cue}' the higher priority.",
        (limit.ONE_AT_A_TIME,),
    ),
    "cut_short": Kind(
        _WARN,
        "On {where} '{cue}' lasts {shown} instead of {whole} {when}: it is cut by {rival}.",
        "Half a signal is another signal.",
        "Leave more time between the two, or {else}.",
        (limit.ONE_AT_A_TIME,),
    ),
    "never_shows": Kind(
        _WARN,
        "On {where} '{cue}' is never {never} {when}: it is hidden by {rival}.",
        "Only one shows at a time: the highest priority, then the newest.",
        "Move one of the two, or give '{cue}' the higher priority.",
        (limit.SEEN_NS,),
    ),
    "hardly_shows": Kind(
        _TELL,
        "On {where} '{cue}' shows for {shown} instead of {whole} {when}: it is hidden by {rival}.",
        "What shows so briefly is hardly noticed.",
        "Leave more time between the two, or give '{cue}' the higher priority.",
        (limit.SEEN_NS,),
    ),
}

_SOUNDS = {
    "evacuation_alarm": Kind(
        _BAD,
        "'{cue}' makes the signal that means 'leave the building' {when}.",
        "That signal is reserved: people would leave, or learn not to.",
        "Take two pulses, other lengths, or a rise.",
        (limit.EVACUATION, limit.EVACUATION_PAUSE_NS),
    ),
    "pitch_out": Kind(
        _WARN,
        "A tone of the sound pattern '{pattern}' is too {way}, at {hz} Hz.",
        "Small loudspeakers and ears in noise lose it.",
        "Take a pitch from 500 to 2500 Hz, such as 750.",
        (limit.LOWEST_HZ, limit.HIGHEST_HZ),
    ),
    "speech_over_tone": Kind(
        _WARN,
        "The word of '{cue}' ('{word}', about {takes}) still sounds when the tone of '{other}' begins {when}.",
        "A tone cuts a word that is still spoken: people hear half, just before a call.",
        "Take a shorter word, leave more time between the two, or let the rig say: speech = false",
        (limit.SAID_BEFORE, limit.SYLLABLE_NS),
    ),
    "quiet_sounds": Kind(
        _WARN,
        "The plan is called '{plan}', but its cue '{cue}' makes a sound.",
        "At events sound is off: people pick a plan with quiet in its name for that.",
        "Take the sound away, or call the plan something else.",
        (limit.QUIET,),
    ),
}

_BUDGETS = {
    "strip_dimmed": Kind(
        _WARN,
        "The light pattern '{pattern}' asks for {asked} mA and max_ma allows {max_ma}: the strip is dimmed to {share}.",
        "The limit dims all patterns alike: in a bright hall nobody sees them.",
        "Use fewer LEDs, or a supply that gives more, and raise max_ma no further than it gives.",
        (limit.DIM_SHARE,),
    ),
    "more_than_usb": Kind(
        _TELL,
        "max_ma = {max_ma} is more than a USB port gives.",
        "A port that is overloaded switches off, and the strip with it.",
        "Give the strip a supply of its own, with a fuse, or write: max_ma = 400",
        (limit.USB_MA,),
    ),
    "slow_wire": Kind(
        _WARN,
        "A frame of {leds} LEDs takes {wire} at {baud} baud: the light is {late} behind the other channels.",
        "All channels should come at the same instant.",
        "Raise baud if the controller can, or set latency_ms in [light] to the time that a frame takes.",
        (limit.LATE_LIGHT_NS,),
    ),
    "few_frames": Kind(
        _WARN,
        "{leds} LEDs at {baud} baud get {frames} frames a second, and the light pattern '{pattern}' moves.",
        "It jumps, and short looks miss it.",
        "Raise baud if the controller can, use fewer LEDs, or still patterns: plain, bands, apart.",
        (limit.FEWEST_FRAMES,),
    ),
    "device_not_installed": Kind(
        _WARN,
        'No package on this laptop brings the device "{device}".',
        "Without its package Tocsin plays as if it were not there.",
        "{how}",
        (limit.INSTALLED,),
    ),
}

_ALL = _FLASHING | _LEADS | _WORDS | _HANDS | _SENSES | _COLOURS | _CLASHES | _SOUNDS | _BUDGETS | KINDS_OF_DRILLS
KINDS: dict[str, Kind] = {
    code: kind._replace(says=tr(kind.says), why=tr(kind.why), fix=tr(kind.fix)) for code, kind in _ALL.items()
}
