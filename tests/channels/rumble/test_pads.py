"""Which pad is whose, on plain data: every way to name one, equal pads, pads that go and come back, pagers."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.channels.rumble.pads import (
    Binding,
    FoundPad,
    Numbers,
    bind,
    describe,
    entry_of,
    guid_core,
    listing,
    matches,
    usb_of,
)
from tocsin.model.rig import Pad

# As SDL gave them for a pad on USB (bus 3), 1209:000a: SDL_joystick.h, "SDL joystick GUID" (from memory).
PLAIN = "03000000091200000a00000014010000"
WITH_CHECKSUM = "0300a3b8091200000a00000014017801"
OTHER = "03000000091200000200000011010000"
NAMELESS_BUS = "05000000576972656c65737320506164"        # no USB ids: the name's letters instead


def found(instance_id, guid=PLAIN, name="Pad", number=None):
    return FoundPad(instance_id=instance_id, guid=guid, name=name, number=number or instance_id + 1)


def bound(wanted, there, before=None) -> dict[int, int]:
    """Return rig entry to instance id."""
    return {slot: pad.instance_id for slot, pad in bind(wanted, there, before or {}).pads.items()}


@pytest.mark.parametrize(
    ("guid", "usb"),
    [
        (PLAIN, "1209:000a"), (WITH_CHECKSUM, "1209:000a"), (OTHER, "1209:0002"), (NAMELESS_BUS, ""), ("", ""),
        ("03000000000000000000000000000000", ""),
    ],
)  # fmt: skip
def test_usb_ids_are_read_from_a_guid(guid, usb):
    assert usb_of(guid) == usb


def test_a_guid_is_compared_without_the_names_checksum_and_the_drivers_bytes():
    """Both differ between systems and SDL versions for the same pad (measured)."""
    assert guid_core(PLAIN) == guid_core(WITH_CHECKSUM) == guid_core(WITH_CHECKSUM.upper())
    assert guid_core(PLAIN) != guid_core(OTHER)
    assert guid_core(PLAIN) != guid_core("05000000091200000a00000014010000")      # by radio it is another entry


@pytest.mark.parametrize(
    ("pad", "fits"),
    [
        (Pad(role="driver"), True),
        (Pad(role="driver", usb="1209:000a"), True),
        (Pad(role="driver", usb="1209:000A"), True),
        (Pad(role="driver", usb="1209:0002"), False),
        (Pad(role="driver", guid=PLAIN), True),
        (Pad(role="driver", guid=WITH_CHECKSUM), True),
        (Pad(role="driver", guid=OTHER), False),
        (Pad(role="driver", name="Pad"), True),
        (Pad(role="driver", name="pad"), False),
        (Pad(role="driver", usb="1209:000a", name="Another"), False),
        (Pad(role="driver", usb="1209:000a", guid=PLAIN, name="Pad"), True),
    ],
)
def test_all_that_an_entry_names_must_match(pad, fits):
    assert matches(pad, found(0)) is fits


def test_two_pads_are_bound_by_what_each_is():
    wanted = [Pad(role="driver", usb="1209:0002"), Pad(role="operator", name="Pad")]
    assert bound(wanted, [found(0), found(1, OTHER, "Other")]) == {0: 1, 1: 0}


def test_an_entry_without_any_name_takes_what_is_left():
    wanted = [Pad(role="driver"), Pad(role="operator", usb="1209:000a")]
    assert bound(wanted, [found(0), found(1, OTHER, "Other")]) == {0: 1, 1: 0}


def test_order_counts_among_the_pads_that_match_otherwise():
    wanted = [Pad(role="driver", usb="1209:000a", order=2), Pad(role="operator", usb="1209:000a", order=1)]
    there = [found(0, OTHER, "Other"), found(1), found(2)]
    assert bound(wanted, there) == {0: 2, 1: 1}


def test_an_order_that_is_not_there_is_not_bound():
    assert bound([Pad(role="driver", order=2)], [found(0)]) == {}


def test_a_pad_that_nobody_names_is_left_alone():
    assert bound([Pad(role="driver", usb="1209:000a")], [found(0, OTHER, "Other")]) == {}


def test_two_equal_pads_are_taken_in_order_and_asked_about():
    wanted = [Pad(role="driver"), Pad(role="operator")]
    binding = bind(wanted, [found(0), found(1)], {})
    assert {slot: pad.instance_id for slot, pad in binding.pads.items()} == {0: 0, 1: 1}
    assert set(binding.asks) == {0, 1}
    assert "2 equal pads" in binding.asks[0]
    assert "driver, operator" in binding.asks[0]


def test_two_equal_pads_of_one_role_need_no_question():
    assert bind([Pad(role="driver"), Pad(role="driver")], [found(0), found(1)], {}).asks == {}


def test_an_equal_pad_too_many_is_asked_about():
    assert set(bind([Pad(role="driver")], [found(0), found(1)], {}).asks) == {0}


def test_a_pager_has_its_pads_role():
    wanted = [Pad(role="driver", usb="1209:000a"), Pad(role="driver", usb="1209:0002")]
    assert bound(wanted, [found(0), found(1, OTHER, "Pager")]) == {0: 0, 1: 1}


def test_a_pad_that_comes_back_goes_to_the_one_who_had_it():
    wanted = [Pad(role="driver"), Pad(role="operator")]
    first, second = found(0), found(1, OTHER, "Other")
    before = bind(wanted, [first, second], {}).pads
    assert bound(wanted, [second], before) == {1: 1}
    assert bound(wanted, [second, found(7, number=1)], before) == {0: 7, 1: 1}


def test_of_two_equal_pads_the_one_that_stayed_keeps_its_role():
    wanted = [Pad(role="driver"), Pad(role="operator")]
    before = bind(wanted, [found(0), found(1)], {}).pads
    assert bound(wanted, [found(1)], before) == {1: 1}
    assert bound(wanted, [found(1), found(9, number=1)], before) == {0: 9, 1: 1}


def test_numbers_follow_the_order_of_plugging_and_come_back():
    numbers = Numbers()
    assert [numbers.add(0, PLAIN, "Pad").number, numbers.add(1, OTHER, "Other").number] == [1, 2]
    numbers.remove(0)
    assert [pad.number for pad in numbers.pads] == [2]
    assert numbers.add(5, PLAIN, "Pad").number == 1
    assert [(pad.number, pad.instance_id) for pad in numbers.pads] == [(1, 5), (2, 1)]


def test_another_pad_may_take_a_number_that_is_free():
    numbers = Numbers()
    numbers.add(0, PLAIN, "Pad")
    numbers.remove(0)
    assert numbers.add(1, OTHER, "Other").number == 1
    assert numbers.add(2, PLAIN, "Pad").number == 2


def test_what_is_missing_and_what_is_there_is_said_in_words():
    assert describe(Pad(role="driver", usb="1209:000a", order=2)) == "usb 1209:000a, the second one"
    assert describe(Pad(role="driver", order=1)) == "the first pad"
    assert describe(Pad(role="driver", order=4)) == "the 4th pad"
    assert describe(Pad(role="driver")) == "any pad"
    assert listing([found(0), found(1, NAMELESS_BUS, "Wireless")]) == "1: Pad (1209:000a); 2: Wireless (no USB ids)"


guids = st.sampled_from([PLAIN, WITH_CHECKSUM, OTHER, NAMELESS_BUS])
names = st.sampled_from(["Pad", "Other"])
entries = st.builds(
    Pad,
    role=st.sampled_from(["driver", "operator"]),
    usb=st.sampled_from(["", "1209:000a", "1209:0002"]),
    name=st.sampled_from(["", "Pad"]),
    order=st.sampled_from([None, 1, 2]),
)
plugged = st.lists(st.tuples(guids, names), max_size=5).map(
    lambda pads: [found(k, guid, name) for k, (guid, name) in enumerate(pads)]
)


@given(st.lists(entries, max_size=4), plugged)
def test_a_pad_is_bound_once_and_only_where_it_matches(wanted, there):
    binding: Binding = bind(wanted, there, {})
    pads = list(binding.pads.values())
    assert len({pad.instance_id for pad in pads}) == len(pads)
    assert all(matches(wanted[slot], pad) for slot, pad in binding.pads.items())
    free = [pad for pad in there if pad not in pads]
    for slot, pad in enumerate(wanted):
        if slot not in binding.pads and pad.order is None:
            assert not any(matches(pad, left) for left in free)


@given(st.lists(entries, max_size=4), plugged, st.sets(st.integers(0, 4)))
def test_a_pad_that_stays_is_never_taken_away(wanted, there, pulled):
    before = bind(wanted, there, {}).pads
    left = [pad for pad in there if pad.instance_id not in pulled]
    after = bind(wanted, left, before).pads
    for slot, pad in before.items():
        if pad in left:
            assert after[slot] == pad


@given(st.lists(st.sampled_from([PLAIN, OTHER, NAMELESS_BUS]), min_size=1, max_size=5))
def test_an_entry_made_of_a_plugged_in_pad_takes_that_pad(guids):
    there = [found(n, guid, f"Pad {guid[8:12]}") for n, guid in enumerate(guids)]
    entries = [entry_of(pad, there, "driver") for pad in there]
    assert bound(entries, there) == {slot: pad.instance_id for slot, pad in enumerate(there)}
    assert bound(entries[::-1], there) == {slot: pad.instance_id for slot, pad in enumerate(there[::-1])}
    assert all((entry.order is None) == (guids.count(pad.guid) == 1) for entry, pad in zip(entries, there, strict=True))
