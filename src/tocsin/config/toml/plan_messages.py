"""List the sentences of what may be wrong with a game and a plan, as `messages` does for all files."""

from tocsin.config.toml.phrases import Sentence

_IDS = {
    "duplicate_id": Sentence(
        "The id '{name}' belongs to another {kind} already.", "Each {kind} has an id of its own.",
        "Rename one of the two.",
    ),
    "reserved_id": Sentence(
        "'{name}' is reserved for Tocsin itself.", "Expected another id.", "Take a longer word, such as {name}_1."
    ),
    "given_otherwise": Sentence(
        "Nothing uses the name '{name}', but '{used}' is used and not defined.",
        "Expected the name that is used.",
    ),
    "unknown_base": Sentence("The game has no period or window '{name}'.", "{uses}Known are: {expected}."),
    "unknown_lead": Sentence(
        "The plan has no lead '{name}'.", "{uses}Known are: {expected}; or a time such as 4s.",
        'Add below [lead]: {name} = "4s"',
    ),
    "unknown_pattern": Sentence("There is no {channel} pattern '{name}'.", "{uses}Known are: {expected}."),
    "unknown_variant": Sentence("The game has no variant '{name}'.", "{uses}Known are: {expected}."),
    "unknown_window": Sentence("The game has no window '{name}'.", "{uses}Known are: {expected}."),
    "unknown_stake": Sentence("The game has no stake '{name}'.", "{uses}Known are: {expected}."),
}  # fmt: skip

_GAME = {
    "no_period": Sentence(
        "The game has no period before robots settle.", 'Expected at least one [[period]] of another kind.',
        'Add a [[period]] such as one with id = "driver", kind = "driver", lasts = "01:37"',
    ),
    "no_length": Sentence("'{name}' takes no time.", "Expected a time above zero."),
    "settle_not_last": Sentence(
        "The period '{name}' settles, but is not the last.", "Robots settle once, after the end.",
        "Move it to the end of the periods.",
    ),
    "open_last": Sentence(
        "The period '{name}' is open, but no other follows that could end it.", "Expected a time.",
        'Give it a time such as lasts = "01:37", or let another period follow.',
    ),
    "two_defaults": Sentence(
        "Two defaults: the variants '{first}' and '{name}'.", "Expected one at most.",
        "Take default = true from one of the two.",
    ),
    "stake_of_others": Sentence(
        "The points of the stake '{name}' go to the opponents.", "A threshold counts points that go to us.",
        "Count another stake here, or let its points go to us.",
    ),
    "out_of_reach": Sentence(
        "Nobody can reach {text} points here.", "The stakes that count give {high} at most.",
        "Let more stakes count, or raise their 'most'.",
    ),
    "window_cycle": Sentence(
        "The window '{name}' uses itself: {way}.", "A window needs a begin and an end that do not use it.",
        "Let it begin at a period, such as driver.end-18s.",
    ),
    "end_not_after_begin": Sentence(
        "This {what} ends before it has begun: {begin} to {end}.", "Expected an end after its begin.",
        "Exchange the two, or take another moment.",
    ),
}  # fmt: skip

_MOMENTS = {
    "span_of_period": Sentence("'{name}' is a period: it has no spans to count.", "Expected it without the number."),
    "span_out_of_range": Sentence("'{name}' has {count} spans.", "Expected one of them, counted from 1."),
    "one_meant": Sentence(
        "'{name}' is {count} moments; write only one.", "Expected the number of the span."
    ),
    "pairing": Sentence(
        "'{first}' has {begins} moments, '{second}' has {ends}.", "They pair by position: expected as many of each.",
        "Add what is missing, or take away what is left over.",
    ),
    "before_match": Sentence(
        "'{name}' is {by} before the match begins.", "No cue can come before match.begin.",
        "Take a shorter lead, or a later moment.",
    ),
    "before_by_hand": Sentence(
        "'{name}' is before '{anchor}', which a person begins: not known in advance.",
        "Expected a moment from {anchor}.begin on.", "Count from a moment before '{anchor}'.",
    ),
    "before_mark": Sentence(
        "'{name}' is before {anchor}, which nobody knows in advance.", "Expected a moment from {anchor} on.",
        "Count from a moment known in advance, or from one after the mark.",
    ),
    "beyond_segment": Sentence(
        "'{name}' is {by} into '{anchor}', which a person begins.", "Expected a moment that ends before it.",
        "Count from {anchor}.begin instead.",
    ),
    "after_end": Sentence(
        "'{name}' is {by} after the end.", "The latest is {expected}.", "Take an earlier moment."
    ),
    "too_many_firings": Sentence(
        "With the cue '{name}' the plan has {count} firings.", "Expected at most {most}, of all cues and channels.",
        "Take a longer 'every', or fewer moments.",
    ),
    "too_much_sound": Sentence(
        "With the cue '{name}' the plan's sounds last {count} in all.", "Expected at most {most}: each counts once.",
        "Let several cues share a sound, or take shorter ones.",
    ),
    "too_many": Sentence(
        "'{name}' names {count} of them.", "Expected at most {most}.", "Take a longer 'every', or fewer moments."
    ),
}  # fmt: skip

_CUES = {
    "no_channel": Sentence(
        "The cue '{name}' has no channel.", "Expected at least one of rumble, light, screen, sound.",
        'Add a line such as: rumble = "triple"',
    ),
    "no_role": Sentence(
        "The cue '{name}' rumbles for nobody.", "Expected at least one role.", 'Such as: for = ["driver", "operator"]'
    ),
    "no_moment": Sentence(
        "The cue '{name}' never comes.", "Expected 'at', or callable = true for a call by hand.",
        'Add a line such as: at = "no_contact.begin-4s"',
    ),
    "same_moment": Sentence(
        "The cue '{name}' falls on the same moment twice ({other}).", "Expected each moment once.",
        "Delete one of the two.",
    ),
    "until_without_at": Sentence(
        "The cue '{name}' comes by hand only: it has one end at most.", "Expected one moment in 'until'.",
        "Keep the one that ends it.",
    ),
    "repeat_without_until": Sentence(
        "The cue '{name}' repeats, but nothing ends it.", "'every' needs 'until' too.",
        'Add a line such as: until = "match.end"',
    ),
    "repeat_never_ends": Sentence(
        "The cue '{name}' repeats after no time at all.", "Expected a time above zero.", 'Such as: every = "1s"'
    ),
    "repeat_too_fast": Sentence(
        "The cue '{name}' repeats every {every}.", "The shortest is {expected}.", 'Such as: every = "1s"'
    ),
    "repeat_across": Sentence(
        "The cue '{name}' repeats until a time after {anchor}, which a person begins.",
        "Expected an end that is known when the repeat begins.", "Take an end in the same period.",
    ),
    "unknown_cue": Sentence("The plan has no cue '{name}' to announce.", "Known are: {expected}."),
    "no_ahead": Sentence(
        "Nobody says how long before '{other}' the cue '{name}' comes.", "'announces' needs 'ahead' too.",
        'Add a line such as: ahead = "1s"',
    ),
    "ahead_of_nothing": Sentence(
        "The cue '{name}' says how long ahead it comes, but not of what.", "'ahead' needs 'announces' too.",
        'Add a line such as: announces = "home"',
    ),
    "announces_itself": Sentence("The cue '{name}' announces itself.", "Expected the id of another cue."),
    "announce_circle": Sentence(
        "Cues announce each other in a circle: {way}.", "One of them has to come by itself.",
        "Write 'at' in place of 'announces' and 'ahead' in one of them.",
    ),
    "announces_call": Sentence(
        "The cue '{other}' comes by hand only: nobody knows it ahead.", "Expected a cue with 'at' to announce."
    ),
    "own_moment": Sentence(
        "The cue '{name}' announces '{other}' and comes with it.", "Expected no '{key}' of its own.",
        "Take out this line, or 'announces' and 'ahead'.",
    ),
    "call_unknown": Sentence("No plan here has a cue '{text}'.", "Cues to be called by hand: {known}."),
}  # fmt: skip

_PATTERNS = {
    "pattern_too_long": Sentence(
        "This pattern lasts {text} in all.", "Expected at most {high}.", "Take fewer times, or shorter steps."
    ),
    "pattern_colours": Sentence("'{form}' takes {wanted}, and here are {count}.", "Expected {wanted}.", "{fix}"),
    "pattern_silent": Sentence("Nobody notices this pattern: every step is silent.", "Expected one that is not."),
    "glide_from_silence": Sentence(
        "This step glides to {text} Hz from silence.", "Expected hz, where the glide begins.", "Add: hz = 750"
    ),
}  # fmt: skip

PLAN_MESSAGES: dict[str, Sentence] = {**_IDS, **_GAME, **_MOMENTS, **_CUES, **_PATTERNS}
