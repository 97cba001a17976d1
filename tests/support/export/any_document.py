"""Random JSON documents that the types of the export, or others, describe, and what can be made wrong with one."""

import copy

import msgspec.inspect as kinds
from hypothesis import strategies as st

from tocsin.export.json_document import PlanDocument

#: What stands in place of a value. No whole number with a point: JSON Schema calls 1.0 an integer, our types do not.
ELSE = (None, True, False, 0, -3, 2.5, "", "rumble", [], ["driver"], [1, 2, 3], {}, {"driver": "long"})


def documents(of=PlanDocument):
    """Draw a document that the types accept, as values of JSON."""
    return _values(kinds.type_info(of))


@st.composite
def mutations(draw, of):
    """Draw one of the documents with one to three changes; most of them make it wrong, some leave it right."""
    changed = copy.deepcopy(draw(of))
    for _ in range(draw(st.integers(1, 3))):
        draw(st.sampled_from(_CHANGES))(draw, changed)
    return changed


def shortened(document, of=PlanDocument):
    """Return the document with one item at most in each list that may have any number of them."""
    return _shortened(kinds.type_info(of), document)


def places(document, way=()):
    """Yield the way to each value inside, as keys and indexes."""
    inner = document.items() if isinstance(document, dict) else enumerate(document)
    for key, value in inner:
        yield (*way, key)
        if isinstance(value, dict | list):
            yield from places(value, (*way, key))


def holder(document, way):
    """Return the object or array that holds the value at ``way``."""
    for key in way[:-1]:
        document = document[key]
    return document


def _replace(draw, document):
    if way := _one_of(draw, list(places(document))):
        holder(document, way)[way[-1]] = copy.deepcopy(_one_of(draw, ELSE))


def _remove(draw, document):
    if way := _one_of(draw, list(places(document))):
        del holder(document, way)[way[-1]]


def _add(draw, document):
    inner = [document, *(holder(document, (*way, "")) for way in places(document))]
    into = _one_of(draw, [one for one in inner if isinstance(one, dict | list)])
    value = copy.deepcopy(_one_of(draw, ELSE))
    if isinstance(into, dict):
        into[_one_of(draw, ("smell", "rumble", "id", "lasts_ns", "no"))] = value
    else:
        into.append(value)


def _one_of(draw, values):
    """Draw one of the values, or None where there are none."""
    return values[draw(st.integers(0, len(values) - 1))] if values else None


_CHANGES = (_replace, _replace, _remove, _add)


def _shortened(kind, value):
    if isinstance(kind, kinds.StructType):
        of = {field.encode_name: field.type for field in kind.fields}
        return {key: _shortened(of[key], inner) for key, inner in value.items()}
    if isinstance(kind, kinds.VarTupleType):
        return [_shortened(kind.item_type, inner) for inner in value[:1]]
    if isinstance(kind, kinds.DictType):
        return {key: _shortened(kind.value_type, value[key]) for key in list(value)[:1]}
    return value


def _values(kind):
    if isinstance(kind, kinds.Metadata):
        return _values(kind.type)
    return _OF_KIND[type(kind)](kind)


def _object(kind):
    fields = {field.encode_name: (field.required, _values(field.type)) for field in kind.fields}
    return st.fixed_dictionaries(
        {name: values for name, (required, values) in fields.items() if required},
        optional={name: values for name, (required, values) in fields.items() if not required},
    )


_OF_KIND = {
    kinds.StructType: _object,
    kinds.StrType: lambda kind: st.from_regex(kind.pattern, fullmatch=True) if kind.pattern else st.text(max_size=4),
    kinds.IntType: lambda _: st.integers(),
    kinds.FloatType: lambda _: st.floats(allow_nan=False, allow_infinity=False),
    kinds.BoolType: lambda _: st.booleans(),
    kinds.NoneType: lambda _: st.none(),
    kinds.LiteralType: lambda kind: st.sampled_from(kind.values),
    kinds.UnionType: lambda kind: st.one_of(*(_values(one) for one in kind.types)),
    kinds.VarTupleType: lambda kind: st.lists(_values(kind.item_type), max_size=2),
    kinds.TupleType: lambda kind: st.tuples(*(_values(one) for one in kind.item_types)).map(list),
    kinds.DictType: lambda kind: st.dictionaries(_values(kind.key_type), _values(kind.value_type), max_size=2),
}
