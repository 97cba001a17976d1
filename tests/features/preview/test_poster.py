"""The poster: every cue on one sheet, nothing on top of anything else, letters that are read from 3 m, equal bytes."""

import hashlib
import io
import re
import xml.etree.ElementTree as ET
from functools import cache
from itertools import pairwise

import msgspec
import pypdf
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from matplotlib import rc_context

from tests.support.export.card_sources import CARDS, cue, game, made
from tests.support.export.drawn_areas import Area, meeting, text_areas
from tests.support.export.elsewhere import printed_elsewhere
from tests.support.export.exported_plans import BUNDLED, bundled, source
from tests.support.model.compiled_games import ALL_CHANNELS, games_and_plans, match_of, period, plan_of
from tests.support.model.compiled_games import cue as any_cue
from tests.support.thinned import crossed
from tocsin.errors import UsageError
from tocsin.export.drawing.fitting import CAP, ELLIPSIS
from tocsin.export.drawing.printing import figure
from tocsin.features.preview.poster.cues import crews
from tocsin.features.preview.poster.poster import PAPERS, poster, poster_sheets
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.pattern import Patterns, ScreenPattern, SoundPattern, SoundStep
from tocsin.model.plan import Plan
from tocsin.model.safety import relative_luminance
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

# ISO 216, upright (from memory).
ISO_216_MM = {"a4": (210, 297), "a3": (297, 420)}
# A letter is read at ease if it is a two hundredth of the distance tall: common practice, no source.
READ_FROM_3_M_MM = 3000 / 200
LARGE = ("reading", "word")


def silent():
    """Return a plan whose every cue lacks something: sound, pads, screen, or all patterns' names."""
    return made(
        game(),
        cue("seen", "driver.end-60s", say="Seen", patterns={"screen": "word"}),
        cue("felt", "driver.end-50s", say="Felt", patterns={"rumble": "short"}),
        cue("both", "driver.end-40s", say="Both", patterns={"screen": "word", "rumble": "short"}, priority=9),
    )


def unknown():
    """Return a plan that names patterns which its file did not bring along."""
    whole = bundled("full")
    return msgspec.structs.replace(whole, plan=msgspec.structs.replace(whole.plan, patterns=Patterns()))


def drivers_twenty():
    """Return twenty cues for drivers, all on all channels."""
    cues = (
        any_cue(f"call_{n}", f"driver.end-{80 - 4 * n}s", patterns=ALL_CHANNELS, priority=n % 10, say=f"Call {n}")
        for n in range(20)
    )
    return source(match_of(period("driver", 120)), plan_of(*cues))


PLANS = {
    **CARDS, "words": lambda: bundled("words"), "silent": silent, "unknown patterns": unknown, "twenty": drivers_twenty,
}  # fmt: skip
every_plan = pytest.mark.parametrize("name", PLANS)
every_paper = pytest.mark.parametrize("paper", PAPERS)


@cache
def source_of(name):
    return PLANS[name]()


@cache
def sheets(name, paper):
    return poster_sheets(source_of(name), paper)


def strings(sheet, *kinds):
    return [label.string for label in sheet.parts.labels if label.kind in kinds]


def words(sheet):
    """Return the cues' readings and words of a sheet, as they are read."""
    return " ".join(strings(sheet, *LARGE))


# -- nothing meets, nothing leaves ------------------------------------------------------------------------------------


def solid(sheet):
    """Return all that is drawn but grounds and lines: pulses, boxes of words, tones, screens."""
    boxes = [
        Area(box.kind, box.x_mm, box.y_mm, box.x_mm + box.width_mm, box.y_mm + box.height_mm)
        for box in sheet.parts.boxes
    ]
    return boxes, [
        Area("area", min(xs), min(ys), max(xs), max(ys))
        for xs, ys in (tuple(zip(*area.points, strict=True)) for area in sheet.parts.areas)
    ]


def assert_tidy(sheet):
    with rc_context({"text.hinting": "none"}):
        texts = text_areas(figure(sheet), sheet.height_mm)
    page = Area("sheet", 0, 0, sheet.width_mm, sheet.height_mm)
    boxes, areas = solid(sheet)
    points = [point for stroke in sheet.parts.strokes for point in stroke.points]
    assert [item for item in (*texts, *boxes, *areas) if not page.holds(item)] == []
    assert all(0 <= x <= sheet.width_mm and 0 <= y <= sheet.height_mm for x, y in points)
    assert meeting(texts, texts) == []
    inside = [one for one, label in zip(texts, sheet.parts.labels, strict=True) if label.kind in ("screen", "lane")]
    outside = [one for one in texts if one not in inside]
    assert meeting(outside, boxes) == []
    assert meeting(outside, areas) == []
    steps = [box for box in boxes if box.name == "step"]
    assert meeting(inside, steps) == []
    assert meeting(steps, areas) == []
    lane = [one for one, label in zip(texts, sheet.parts.labels, strict=True) if label.kind == "lane"]
    drawn = zip(areas, sheet.parts.areas, strict=True)
    coloured = [one for one, area in drawn if area.colour != (255, 255, 255)]
    assert meeting(lane, coloured) == []
    assert [label.string for label in sheet.parts.labels if label.string.endswith(ELLIPSIS)] == []


@crossed(name=PLANS, paper=PAPERS)
def test_nothing_overlaps_or_leaves_the_sheet_and_nothing_is_cut(name, paper):
    for sheet in sheets(name, paper):
        assert (sheet.width_mm, sheet.height_mm) == ISO_216_MM[paper]
        assert_tidy(sheet)


@settings(
    suppress_health_check=list(HealthCheck), deadline=None, phases=(Phase.explicit, Phase.generate),
    max_examples=settings.default.max_examples // 3,
)  # fmt: skip
@given(games_and_plans())
def test_nothing_overlaps_whatever_the_plan(of):
    timeline, mistakes = compile_plan(*of)
    if timeline is not None and not mistakes:
        for sheet in poster_sheets(source(*of), "a4"):
            assert_tidy(sheet)


# -- which cue stands where -------------------------------------------------------------------------------------------


def titled(found, title):
    return [sheet for sheet in found if title in strings(sheet, "title")]


def test_the_drivers_sheet_holds_their_three_cues_of_the_highest_priority():
    drivers, coach = crews(source_of("full"))
    assert [item.cue.id for item in drivers.cues] == ["home", "no_touch", "over"]       # choose is not for the driver
    assert [item.cue.id for item in coach.cues] == ["pads", "alive", "last_load", "coach_call", "choose", "last_five"]


@every_paper
def test_drivers_have_one_sheet_in_the_bundled_plans(paper):
    for name in BUNDLED:
        assert len(titled(sheets(name, paper), "Drivers")) == 1


@crossed(name=[*BUNDLED, "twenty", "crowd of 60", "unknown times"], paper=PAPERS)
def test_each_cue_stands_on_one_sheet_and_the_one_before_names_those_that_follow(name, paper):
    found = sheets(name, paper)
    called = [item for crew in crews(source_of(name)) for item in crew.cues]
    assert {item.cue.id for item in called} == {firing.cue for firing in source_of(name).timeline.firings}
    read = " ".join(words(sheet) for sheet in found)
    assert read == " ".join(f"{item.reading} {item.word}" for item in called)
    for before, sheet in pairwise(found):
        named = " ".join(strings(before, "note")).removeprefix("On the next sheet: ").removesuffix(".")
        assert named.replace(",", "") == words(sheet).replace(",", "")
    assert not any(text.startswith("On the next sheet") for text in strings(found[-1], "note"))


def test_a_sheet_tells_what_to_do_for_whom_until_when_and_what_comes_before():
    read = " ".join(strings(sheets("full", "a4")[0], "detail", "second", "word", "reading"))
    for text in ("0:22", "Home", "break off now: it takes about 3 s", "for driver, operator", "until 0:18", "by hand",
                 "“Call home” comes 1 s before"):  # fmt: skip
        assert text in read


@every_paper
def test_a_plan_without_calls_says_so(paper):
    (sheet,) = sheets("nothing", paper)
    assert "This plan has no calls." in strings(sheet, "rule")


@every_paper
def test_every_sheet_has_the_cautions_and_says_of_which_plan_it_is(paper):
    for number, sheet in enumerate(sheets("full", paper), 1):
        read = " ".join(strings(sheet, "print", "rule", "title"))
        assert "No cue stops a robot. No cue allows you onto the field." in read
        assert "The event's rules come first" in read
        assert f"plan: Full (sha256 {'b' * 16}…)" in read
        assert f"Casting Day: Full · sheet {number} of 3" in read


# -- seen, felt, heard ------------------------------------------------------------------------------------------------


def boxes(sheet, kind):
    return [box for box in sheet.parts.boxes if box.kind == kind]


def test_pulses_are_to_scale():
    pulses = boxes(sheets("full", "a4")[0], "step")
    scale = pulses[0].width_mm / 0.25                        # mm a second: home is 3 x 250 ms, 200 ms apart
    assert [box.width_mm / scale for box in pulses] == pytest.approx([0.25, 0.25, 0.25, 0.8, 0.5])
    assert pulses[1].x_mm - pulses[0].x_mm == pytest.approx(0.45 * scale)
    strokes = sheets("full", "a4")[0].parts.strokes
    sides = [stroke.points for stroke in strokes if stroke.points[0][0] == stroke.points[1][0]]
    shares = [
        box.height_mm / (low - high)
        for box in pulses for (_, high), (_, low) in sides
        if low == pytest.approx(box.y_mm + box.height_mm)
    ]  # fmt: skip
    assert sorted({round(share, 3) for share in shares}) == [0.8, 1.0]      # over; home and no touch


def tones(sheet):
    """Return the four-cornered black areas beside the screens: begin, end, and how far each end is up."""
    right = max(point[0] for area in sheet.parts.areas for point in area.points if area.colour != (0, 0, 0))
    return [area.points for area in sheet.parts.areas if area.colour == (0, 0, 0) and area.points[0][0] > right]


def test_tones_rise_and_fall_as_their_pitch_does():
    rises = tones(sheets("full", "a4")[0])[:2]
    assert all(end[1] < begin[1] for begin, end, *_ in rises)
    high, low = tones(sheets("full", "a4")[0])[2:4]          # of no touch, behind those of home
    assert high[0][1] < low[0][1]
    assert high[1][0] == pytest.approx(low[0][0])


def test_a_spoken_word_has_its_box_behind_the_tones():
    assert boxes(sheets("full", "a3")[0], "plate") == []     # a coach is in the crew and says the words
    found = sheets("words", "a3")
    spoken = [text for sheet in found for text in strings(sheet, "lane") if "then the laptop says it" in text]
    assert len(spoken) == sum(len(boxes(sheet, "plate")) for sheet in found) > 0
    first = next(sheet for sheet in found if boxes(sheet, "plate"))
    heard_until_mm = max(x_mm for corners in tones(first)[:1] for x_mm, _ in corners)
    assert boxes(first, "plate")[0].x_mm > heard_until_mm


def test_the_screen_s_own_composer_places_word_and_plate():
    of = source_of("full")
    sheet = sheets("full", "a4")[0]
    assert strings(sheet, "screen") == ["HOME", "NO", "TOUCH", "OVER"]
    colours = {area.colour for area in sheet.parts.areas}
    for name in ("home", "no_touch", "over"):
        assert set(of.plan.patterns.screen[name].colours) <= colours


def test_what_a_cue_does_not_do_is_said():
    read = " ".join(text for sheet in sheets("silent", "a4") for text in strings(sheet, "lane"))
    assert "Heard: no sound" in read
    assert "Felt: nothing in the hands" in read
    assert "the screen does not change" in read
    assert "a pattern that is not known here" in " ".join(
        text for sheet in sheets("unknown patterns", "a4") for text in strings(sheet, "lane")
    )


# -- read from 3 m, and in grey ---------------------------------------------------------------------------------------


@crossed(name=[name for name in PLANS if name != "long words"], paper=PAPERS)
def test_readings_and_words_are_large_enough_for_3_m(name, paper):
    for sheet in sheets(name, paper):
        for label in sheet.parts.labels:
            if label.kind in LARGE:
                assert label.em_mm * CAP >= READ_FROM_3_M_MM - 1e-9, label


def luminance(label):
    if label.colour is not None:
        return relative_luminance(label.colour)
    return relative_luminance((round(label.grey * 255),) * 3)


def lightest_and_darkest(sheet, label):
    """Return the luminance of what lies beneath the middle of a text: of the last area drawn there, else paper."""
    x_mm, y_mm = label.x_mm + label.width_mm / 2, label.y_mm - label.above_mm / 2
    ground = 1.0
    for area in sheet.parts.areas:
        xs, ys = zip(*area.points, strict=True)
        if len(set(xs)) == 2 and min(xs) < x_mm < max(xs) and min(ys) < y_mm < max(ys):
            ground = relative_luminance(area.colour)
    return ground


@every_plan
def test_letters_have_a_contrast_of_seven_in_grey(name):
    # Printed grey keeps the luminance; 7:1 is WCAG 2.2, 1.4.6 (W3C, 2023).
    for sheet in sheets(name, "a4"):
        for label in sheet.parts.labels:
            dark, light = sorted((luminance(label), lightest_and_darkest(sheet, label)))
            assert (light + 0.05) / (dark + 0.05) >= 7, label


def test_stripes_that_look_alike_in_grey_have_a_line_between_them():
    def of(*colours):
        pattern = ScreenPattern(field="stripes", colours=colours, letters=(255, 255, 255), lasts_ns=S)
        plain = made(game(), cue("home", "driver.end-22s", say="Home"))
        plan = msgspec.structs.replace(plain.plan, patterns=Patterns(screen={"word": pattern}))
        return poster_sheets(msgspec.structs.replace(plain, plan=plan), "a4")[0]

    def lined(sheet):
        return {area.line_mm > 0 for area in sheet.parts.areas if len({x for x, _ in area.points}) > 2}

    assert lined(of((86, 180, 233), (204, 121, 167))) == {True}
    assert lined(of((0, 0, 0), (240, 228, 66))) == {False}


# -- files ------------------------------------------------------------------------------------------------------------


def test_the_pdf_has_all_sheets_and_their_texts():
    (data,) = poster(source_of("full"), "pdf", "a4")
    pages = pypdf.PdfReader(io.BytesIO(data)).pages
    assert len(pages) == 3
    for page, sheet in zip(pages, sheets("full", "a4"), strict=True):
        read = re.sub(r"\s+", "", page.extract_text())
        assert [x.string for x in sheet.parts.labels if re.sub(r"\s+", "", x.string) not in read] == []
        sides_mm = [float(side) * 25.4 / 72 for side in (page.mediabox.width, page.mediabox.height)]
        assert sides_mm == pytest.approx(ISO_216_MM["a4"], abs=0.1)
    assert b"Made by Tocsin 9.9.9" in data
    assert b"CreationDate" not in data


def test_pictures_are_a_file_a_sheet():
    files = poster(source_of("full"), "svg", "a4")
    assert len(files) == 3
    for data in files:
        assert b"Made by Tocsin 9.9.9" in data
        ET.fromstring(data)
    assert poster(source_of("one cue"), "png", "a4")[0].startswith(b"\x89PNG")


def test_a_plan_with_too_many_cues_for_a_poster_is_refused():
    cues = (cue(f"call_{n}", f"driver.end-{n + 1}s", say="Call") for n in range(61))
    with pytest.raises(UsageError, match="60 cues"):
        poster_sheets(made(game(), *cues), "a3")


def test_a_sound_longer_than_two_seconds_stretches_the_scale():
    long = SoundPattern(steps=(SoundStep(hz=600.0, lasts_ns=4500 * MS),))
    home = cue("home", "driver.end-22s", say="Home", patterns={"sound": "long"})
    of = source(game(), Plan(name="Try", game="invented", cues=(home,), patterns=Patterns(sound={"long": long})))
    sheet = poster_sheets(of, "a4")[0]
    assert_tidy(sheet)
    assert any(re.fullmatch(r"[5-9] s", text) for text in strings(sheet, "lane"))


CHILD = """
import hashlib
from tests.support.export.exported_plans import bundled
from tocsin.features.preview.poster.poster import poster
data = b"".join(b"".join(poster(bundled("quiet"), form, "a4")) for form in ("svg", "png", "pdf"))
print(hashlib.sha256(data).hexdigest())
"""


@pytest.mark.devices
def test_another_process_with_a_user_s_own_settings_makes_equal_bytes(tmp_path):
    made_here = b"".join(b"".join(poster(source_of("quiet"), form, "a4")) for form in ("svg", "png", "pdf"))
    assert printed_elsewhere(tmp_path, CHILD) == hashlib.sha256(made_here).hexdigest()
