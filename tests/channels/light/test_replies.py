"""What a board's silence means, for each kind of board that there is; the time is an argument."""

from hypothesis import given
from hypothesis import strategies as st

from tocsin.channels.light.replies import ANSWER_NS, DEAF_FRAMES, DEAF_NS, Replies
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S


def tpm2(greets=True):
    return Replies(greets=greets, acknowledges=True)


def sent_for(replies, begin_ns, lasts_ns, *, each_ns=S, answer=b""):
    """Write a frame now and then, each answered at once; return when the last one was written."""
    at_ns = begin_ns
    while at_ns <= begin_ns + lasts_ns:
        replies.wrote(at_ns)
        replies.heard(answer)
        at_ns += each_ns
    return at_ns - each_ns


def test_who_neither_greets_nor_answers_is_silent_and_may_be_no_board():
    replies = tpm2()
    assert replies.verdict(0) == "silent"
    assert replies.verdict(sent_for(replies, 0, 60 * S)) == "silent"


def test_a_port_of_which_no_greeting_is_expected_is_no_worry():
    replies = tpm2(greets=False)
    assert replies.verdict(sent_for(replies, 0, 60 * S)) == "hears"


def test_a_board_that_answered_and_stops_is_deaf_and_hears_again_with_its_next_answer():
    replies = tpm2()
    last_ns = sent_for(replies, 0, 5 * S, answer=b"\xac")
    assert replies.verdict(last_ns) == "hears"
    last_ns = sent_for(replies, last_ns + S, DEAF_NS)
    assert replies.verdict(last_ns) == "deaf"
    replies.heard(b"\xac")
    assert replies.verdict(last_ns) == "hears"


def test_a_board_that_starts_anew_is_not_deaf_meanwhile():
    """A boot loader waits about two seconds (common practice, no source)."""
    replies = tpm2()
    last_ns = sent_for(replies, 0, S, answer=b"\xac")
    last_ns = sent_for(replies, last_ns + S, 2 * S + 500 * MS, each_ns=25 * MS)
    assert replies.verdict(last_ns) == "hears"


def test_few_frames_make_nobody_deaf_however_long_ago():
    replies = tpm2()
    sent_for(replies, 0, S, answer=b"\xac")
    for no in range(DEAF_FRAMES - 1):
        replies.wrote(2 * S + no)
    assert replies.verdict(1000 * S) == "hears"


@given(st.lists(st.tuples(st.booleans(), st.integers(1, 3 * S)), max_size=60))
def test_a_board_of_adalight_is_never_deaf_whatever_it_greets_or_leaves_unsaid(course):
    """It never answers a frame: nobody can tell."""
    replies, at_ns = Replies(greets=True, acknowledges=False), 0
    for greets, pause_ns in course:
        at_ns += pause_ns
        replies.wrote(at_ns)
        if greets:
            replies.heard(b"Ada\n")
        assert replies.verdict(at_ns + 60 * S) == ("hears" if replies.greeted else "silent")
        assert not replies.lost_one(at_ns + 60 * S)


def test_a_board_that_greets_and_ignores_frames_of_tpm2_is_told_apart_from_a_deaf_one():
    """It may take Adalight alone, or TPM2 without answering."""
    replies = tpm2()
    replies.heard(b"Ada\n")
    assert replies.verdict(0) == "hears"
    last_ns = sent_for(replies, 0, DEAF_NS, answer=b"Ada\n")
    assert replies.verdict(last_ns) == "greets"
    replies.heard(b"\xac")
    assert replies.verdict(last_ns) == "hears"


def test_an_answer_before_any_frame_is_noise():
    replies = tpm2()
    replies.heard(b"\xac\xac")
    assert not replies.answering


def test_a_frame_without_an_answer_is_missed_once():
    replies = tpm2()
    sent_for(replies, 0, S, answer=b"\xac")
    replies.wrote(2 * S)
    assert not replies.lost_one(2 * S + ANSWER_NS - 1)
    assert replies.lost_one(2 * S + ANSWER_NS)
    assert not replies.lost_one(3 * S)


def test_answers_of_earlier_frames_do_not_stand_for_a_lost_one():
    """A moving cue's frames follow each other before the answers are read; its last, black one was torn."""
    replies = tpm2()
    for no in range(20):
        replies.wrote(no * 20 * MS)
    replies.heard(b"\xac" * 19)
    assert replies.lost_one(400 * MS + ANSWER_NS)


@given(st.lists(st.binary(min_size=1, max_size=7), max_size=30))
def test_a_greeting_is_heard_in_whatever_pieces_it_comes(pieces):
    replies = tpm2()
    for piece in pieces:
        replies.heard(piece)
    assert replies.greeted == (b"Ada\n" in b"".join(pieces))


@given(st.integers(1, 3), st.binary(max_size=70))
def test_a_cut_greeting_counts(cut, noise):
    replies = tpm2()
    replies.heard(noise + b"Ada\n"[:cut])
    replies.heard(b"Ada\n"[cut:])
    assert replies.greeted
