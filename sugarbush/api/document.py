"""The OpenAPI 3.0 document, made of the table of operations; tests hold each answer against it."""

from __future__ import annotations

from typing import Any

from sugarbush import __version__
from sugarbush.api.operations import OPERATIONS, PROBLEM, SCOPES, Operation
from sugarbush.trees.models import Land, Shown, SpeciesSure

Schema = dict[str, Any]
TEXT: Schema = {"type": "string"}
MAY_BE_TEXT: Schema = {"type": "string", "nullable": True}
ML: Schema = {"type": "integer"}
AT_LEAST_NONE: Schema = {"type": "integer", "minimum": 0}
NUMBER: Schema = {"type": "number"}
MAY_BE_NUMBER: Schema = {"type": "number", "nullable": True}
MOMENT: Schema = {"type": "string", "format": "date-time"}
REFUSALS = {
    "400": "What was asked is not understood.",
    "401": "No token, or one that opens nothing.",
    "403": "The token’s scope or the person’s roles do not reach so far.",
    "404": "Nothing is here that the person may see.",
    "429": "Too much was asked for; Retry-After says when to ask again.",
}


def _ref(name: str) -> Schema:
    return {"$ref": f"#/components/schemas/{name}"}


def _list(of: Schema) -> Schema:
    return {"type": "array", "items": of}


def _object(optional: tuple[str, ...] = (), /, **properties: Schema) -> Schema:
    """An object that holds just these."""
    return {
        "type": "object",
        "required": [name for name in properties if name not in optional],
        "properties": properties,
        "additionalProperties": False,
    }


def _one_of(values: Any) -> Schema:
    return {"type": "string", "enum": [str(value) for value in values]}


LINKS = _list(_ref("Link"))
SUMS: dict[str, Schema] = {
    "volume_ml": ML,
    "rain_ml": ML,
    "tipped_out_ml": ML,
    "kept_ml": ML,
    "to_review_ml": ML,
    "not_ours_ml": ML,
    "sugar_brix": MAY_BE_NUMBER,
}


def _schemas() -> dict[str, Schema]:
    point = _object(
        type=_one_of(["Point"]), coordinates={"type": "array", "items": NUMBER, "minItems": 2, "maxItems": 2}
    )
    properties = _object(
        tag=TEXT, state=_one_of(state.mark for state in Shown), needs_look={"type": "boolean"}, address=TEXT, side=TEXT,
        nth={"type": "integer", "nullable": True}, species=MAY_BE_TEXT, botanical=MAY_BE_TEXT,
        species_sure=_one_of(SpeciesSure.values), diameter_um={"type": "integer", "nullable": True, "minimum": 1},
        stems={"type": "integer", "minimum": 1}, land=_one_of(Land.values), group=MAY_BE_TEXT, town_list=TEXT,
        town_number=TEXT, added=MOMENT,
    )  # fmt: skip
    feature = {"type": _one_of(["Feature"]), "id": TEXT, "geometry": point, "properties": properties}
    box = {"type": "array", "items": NUMBER, "minItems": 4, "maxItems": 4}
    interval = {"type": "array", "items": MOMENT, "minItems": 2, "maxItems": 2}
    extent = _object(
        ("spatial", "temporal"), spatial=_object(bbox=_list(box), crs=TEXT), temporal=_object(interval=_list(interval))
    )
    season = _object(year={"type": "integer"}, state=TEXT, links=LINKS)
    return {
        "Link": _object(("type", "title"), href=TEXT, rel=TEXT, type=TEXT, title=TEXT),
        "Problem": _object(("detail",), type=TEXT, title=TEXT, status={"type": "integer"}, detail=TEXT),
        "LandingPage": _object(title=TEXT, description=TEXT, links=LINKS, version=TEXT),
        "Conformance": _object(conformsTo=_list(TEXT)),
        "Document": {"type": "object", "required": ["openapi", "info", "paths"]},
        "Collection": _object(
            id=TEXT, title=TEXT, description=TEXT, itemType=_one_of(["feature"]), crs=_list(TEXT), extent=extent,
            links=LINKS,
        ),
        "Collections": _object(links=LINKS, collections=_list(_ref("Collection"))),
        "Feature": _object(**feature),
        "Tree": _object(**feature, links=LINKS),
        "Trees": _object(
            ("numberMatched",), type=_one_of(["FeatureCollection"]), features=_list(_ref("Feature")), links=LINKS,
            timeStamp=MOMENT, numberReturned=AT_LEAST_NONE, numberMatched=AT_LEAST_NONE,
        ),
        "Seasons": _object(seasons=_list(season), links=LINKS),
        "Totals": _object(
            year={"type": "integer"},
            state=TEXT,
            whole=_object(**SUMS),
            syrup_ml=ML,
            days=_list(_object(
                day={"type": "string", "format": "date"}, coldest_c=MAY_BE_NUMBER, warmest_c=MAY_BE_NUMBER, **SUMS)),
            groups=_list(_object(group=MAY_BE_TEXT, **SUMS)),
            species=_list(_object(species=MAY_BE_TEXT, taps=AT_LEAST_NONE, **SUMS)),
            trees=_list(_object(tree=TEXT, taps=AT_LEAST_NONE, **SUMS)),
            all_trees={"type": "boolean"},
            chain=_list(_object(**{"cause": TEXT, "from": MAY_BE_TEXT, "to": MAY_BE_TEXT, "volume_ml": ML})),
            links=LINKS,
        ),
        "Entry": _object(
            entry={"type": "string", "format": "uuid"}, tree=TEXT, happened_at=MOMENT, person=TEXT, group=MAY_BE_TEXT,
            outcome=TEXT, state=TEXT, counts_volume_ml=AT_LEAST_NONE, counts_rain_ml=AT_LEAST_NONE,
            counts_discarded_ml=AT_LEAST_NONE, said_volume_ml=AT_LEAST_NONE, said_rain_ml=AT_LEAST_NONE,
            said_discarded_ml=AT_LEAST_NONE, discard_reason=TEXT, sugar_brix=MAY_BE_NUMBER,
        ),
        "Entries": _object(year={"type": "integer"}, entries=_list(_ref("Entry")), links=LINKS),
    }  # fmt: skip


def _operation(operation: Operation) -> Schema:
    parameters = [{"name": name, "in": "query", "required": False, **said} for name, said in operation.query.items()]
    parameters += [{"name": name, "in": "path", "required": True, **said} for name, said in operation.in_path.items()]
    refusals = dict(REFUSALS)
    if not operation.scope:
        refusals = {"400": refusals["400"]}
    elif not operation.in_path and "after" not in operation.query:
        del refusals["404"]
    responses: Schema = {
        status: {"description": words, "content": {PROBLEM: {"schema": _ref("Problem")}}}
        for status, words in refusals.items()
    }
    responses["200"] = {
        "description": "The answer.",
        "content": {operation.media_type: {"schema": _ref(operation.answer)}},
    }
    described = (
        f"Needs a token with the scope “{operation.scope}”: {SCOPES[operation.scope]}." if operation.scope else ""
    )
    return {
        "operationId": operation.key,
        "summary": operation.summary,
        "description": described or "Needs no token; says nothing of the programme.",
        "parameters": parameters,
        "responses": dict(sorted(responses.items())),
        "security": [{"token": []}] if operation.scope else [],
    }


def document(server: str) -> Schema:
    """The whole document. server: the address in front of every path, without a slash at its end."""
    return {
        "openapi": "3.0.3",
        "info": {
            "title": "Sugarbush",
            "version": __version__,
            "description": "Trees, seasons and entries of a sugarbush programme, for reading only. A token is made on "
            "one’s own page; with it a program reads what its person may open. Volumes are whole millilitres, trunks "
            "micrometres, times UTC.",
        },
        "servers": [{"url": server or "/"}],
        "paths": {operation.path: {"get": _operation(operation)} for operation in OPERATIONS},
        "components": {
            "schemas": _schemas(),
            "securitySchemes": {"token": {"type": "http", "scheme": "bearer"}},
        },
    }
