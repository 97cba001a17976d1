"""Who is there tonight: the people of the project's crews, and who else comes, by name."""

from collections.abc import Iterator, Mapping

from tocsin.features.evening.talk import Talk
from tocsin.journal.people import People
from tocsin.journal.tonight import Seat, Tonight
from tocsin.model.drill import CREWS
from tocsin.translation import tr

_ROLES = ("driver", "operator", "coach")           # whom somebody new may be
_MOST = 9                                          # seats: a key each
_UNKNOWN = tr("somebody whose name was forgotten")


def seats_of(crews: Mapping[str, Mapping[str, str]]) -> list[Seat]:
    """Return the seats of a project's crews, all of them there."""
    return [Seat(crew=crew, role=role, person=key) for crew, of in sorted(crews.items()) for role, key in of.items()]


def ask_who(tonight: Tonight, people: People, talk: Talk) -> bool:
    """Ask who is there, one key at a time, and set the seats; return whether everybody has been named.

    Raises LeftError, EndedError, JournalError.
    """
    for line in _lines(tonight, people):
        talk.say(line)
    numbers = [str(number) for number in range(1, min(len(tonight.seats), _MOST) + 1)]
    if not numbers:
        question = tr("Who is there? n: somebody new, y: nobody named")
    else:
        keys = tr("{first} to {last}", first=numbers[0], last=numbers[-1]) if len(numbers) > 1 else numbers[0]
        question = tr("Who is there? {keys}: here or not, n: somebody new, y: that is right", keys=keys)
    answer = talk.key(question, (*numbers, "n", "y"))
    if answer == "n":
        _take_new(tonight, people, talk)
    elif answer != "y":
        seat = tonight.seats[int(answer) - 1]
        seat.here = not seat.here
        if seat.here:
            _stand_up(tonight, seat)
    return answer == "y"


def _lines(tonight: Tonight, people: People) -> Iterator[str]:
    names = people.names
    for number, seat in enumerate(tonight.seats, 1):
        here = tr("here") if seat.here else tr("not here")
        yield tr(
            "  {number}  crew {crew}  {role:<9} {here:<9} {person}", number=number, crew=seat.crew, role=seat.role,
            here=here, person=names.get(seat.person, _UNKNOWN),
        )
    for crew in dict.fromkeys(seat.crew for seat in tonight.seats):
        roles = tonight.roster.get(crew, {})
        if not roles:
            yield tr("  Crew {crew} is not there.", crew=crew)
        elif "operator" not in roles and "driver" in roles:
            yield tr("  Crew {crew} has no operator: that is fine.", crew=crew)


def _take_new(tonight: Tonight, people: People, talk: Talk) -> None:
    name = talk.line(tr("Name (a nickname is fine; empty: nobody): "))
    if not name.strip():
        return
    crews = {seat.crew for seat in tonight.seats}
    offered = [crew for crew in CREWS if crew in crews]
    offered += [crew for crew in CREWS if crew not in crews][:1]
    places = [(crew, role) for crew in offered for role in _ROLES][:_MOST]
    keys = [str(number) for number in range(1, len(places) + 1)]
    told = ", ".join(
        tr("{key}: crew {crew} {role}", key=key, crew=crew, role=role)
        for key, (crew, role) in zip(keys, places, strict=True)
    )
    crew, role = places[int(talk.key(tr("As what? {told}", told=told), keys)) - 1]
    seat = Seat(crew=crew, role=role, person=people.keep(name))
    tonight.seats = [one for one in tonight.seats if (one.crew, one.role, one.person) != (crew, role, seat.person)]
    _stand_up(tonight, seat)
    tonight.seats.append(seat)
    tonight.seats.sort(key=lambda one: one.crew)


def _stand_up(tonight: Tonight, seat: Seat) -> None:
    """Let whoever else has this place be away: one person a role."""
    for other in tonight.seats:
        if other is not seat and (other.crew, other.role) == (seat.crew, seat.role):
            other.here = False
