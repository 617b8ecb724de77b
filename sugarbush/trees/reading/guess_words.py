# ruff: noqa: E501 - tables of words
"""Words in column headings, in several languages, and how strongly each points to a field."""

import re
import unicodedata

from sugarbush.trees.reading.words import word_set

# A heading that equals one of these (small letters, words parted by one space) is as good as sure.
HEADINGS: dict[str, frozenset[str]] = {
    field: frozenset(part.strip() for part in text.split(","))
    for field, text in {
        "number": "tree id, treeid, tree number, tree no, tree num, tree nr, treenumber, treenum, inventory number, "
        "inventory id, asset id, assetid, facility id, facilityid, unit id, unitid, tag, tag number, tree tag, number, no, "
        "nr, num, id, baumnummer, baum nr, baum id, baumid, baumnr, kennzeichen, numero, numero arbre, no arbre, "
        "arbre id, id arbre, code arbre, idarbre, matricule, id arbol, objectid, fid, gid, global id, globalid, ogc fid, "
        "gml id, emp no, structid, struct id",
        "botanical": "botanical, botanical name, botanicalname, scientific, scientific name, scientificname, latin, "
        "latin name, latinname, species latin, spc latin, taxon, genus species, sci name, species botanical, "
        "botanischer name, baumart botanisch, baumart lat, gattung art, art botanisch, art bot, nom latin, "
        "nom scientifique, nom botanique, essence latin, espece latin, essence scientifique, nombre cientifico, "
        "name botanical, botname, art dtsch bot, species scientific",
        "common": "common, common name, commonname, species common, spc common, tree name, species name, vernacular, "
        "vernacular name, english name, tree type, deutscher name, baumart deutsch, art deutsch, baumart, art dtsch, "
        "nom commun, nom francais, essence, essence fr, nom vernaculaire, nombre comun, name common, tree species, "
        "species common name, kind",
        "code": "species code, sp code, spcode, spp code, species abbreviation, species symbol, plants symbol, "
        "usda code, usda symbol, code, tree code, species id, sigle, essence code, code essence, art code, spp, abbrev",
        "size": "trunk in, trunk inches, trunk cm, trunk mm, trunk, stem cm, dbh, dbh in, dbh inches, dbh cm, dbh mm, diameter, diameter in, diameter inches, diameter cm, diam, "
        "trunk diameter, diameter at breast height, diameter breast height, tree dbh, stem diameter, girth, girth cm, "
        "circumference, circumference cm, trunk circumference, trunk girth, stammumfang, stammumfg, stammdurchmesser, "
        "stamm durchmesser, bhd, umfang, durchmesser, circonference, circonference cm, circonf, diametre, diametre cm, "
        "dhp, dap, diametro, perimetro, tree size, trunk size, size, caliper, size in, size cm",
        "longitude": "longitude, lon, long, lng, x, x coord, x coordinate, xcoord, point x, coord x, coordx, longitud, "
        "laenge, geo lon, geo long, laengengrad, long dd, lon dd, longitude dd, x wgs84, easting, x long",
        "latitude": "latitude, lat, y, y coord, y coordinate, ycoord, point y, coord y, coordy, latitud, breite, geo lat, "
        "breitengrad, lat dd, latitude dd, y wgs84, northing, y lat",
        "position": "geom, geometry, the geom, wkt, wkt geometry, shape, point, location, geo point, geo point 2d, "
        "geopoint, coordinates, coords, position, geo shape, lat lon, lat long, latlong, latlng, lon lat, geopunkt, "
        "koordinaten, coordonnees, geolocation, centroid",
        "address": "address, full address, street address, site address, property address, civic address, adresse, "
        "addr, location, location address, direccion, standort, lage, adresse complete",
        "street": "strname, str name, street, street name, streetname, on street, onstreet, road, road name, std street, strasse, strassenname, "
        "straße, rue, nom rue, nom de rue, nom voie, voie, calle, st name, addr street, roadname, on str",
        "house": "address, house, house number, house no, housenumber, street number, street no, streetnumber, civic, civic number, "
        "civic no, hausnummer, hausnr, haus nr, no civique, numero civique, numero voie, addr number, address number, "
        "addr num, address no, st num, addr housenumber, str number, std number",
        "side": "side, side of street, street side, streetside, sideofstreet, cote, cote rue, strassenseite, seite, on side, "
        "side type, inv side",
        "land": "owner, ownership, land, land owner, landowner, owned by, ownedby, owner type, property type, private, "
        "jurisdiction, managed by, custodian, public private, land ownership, eigentuemer, eigentumer, proprietaire, "
        "propriete, legal status, tree owner, maintained by, domain",
        "status": "status, tree status, life status, state of tree, condition, tree condition, health, tree present, "
        "lifecycle, zustand, etat, statut, estado, asset status, vitality",
        "site": "site, site type, sitetype, site status, planting site, planting space, plot type, growspace, site name, "
        "location type, standorttyp, emplacement, type emplacement, space type, record type, feature type",
        "stems": "stems, stem count, number of stems, num stems, no stems, trunks, trunk count, number of trunks, "
        "num trunks, multi stem, multistem, multi trunk, stem number, anzahl staemme, staemme, stammanzahl, nb troncs, "
        "troncs, nbtroncs, stem, ntrunks",
        "note": "note, notes, comment, comments, remark, remarks, bemerkung, bemerkungen, remarque, remarques, "
        "commentaire, commentaires, observaciones, description, memo, tree notes",
        "surveyed": "surveyed, survey date, date surveyed, inventory date, date inventory, inventoried, date inventoried, "
        "inspection date, date inspected, inspected, last inspected, last inspection, last updated, date collected, "
        "collected, collection date, measured, date measured, measure date, date, updated, last edited date, erfasst, "
        "aufnahmedatum, date inventaire, date releve, date mesure, inv date, created at",
    }.items()
}

# A single word in a longer heading points more weakly.
WORDS: dict[str, frozenset[str]] = {
    field: frozenset(text.split())
    for field, text in {
        "number": "id number nr numero nummer tag num",
        "botanical": "botanical scientific latin botanisch botanique scientifique cientifico latein",
        "common": "common vernacular commun comun deutsch francais",
        "code": "code symbol abbreviation abbrev",
        "size": "dbh diameter diam girth circumference circonference circonf stammumfang umfang bhd dhp diametre diametro "
        "durchmesser caliper trunkdiameter",
        "longitude": "longitude lon lng longitud laengengrad",
        "latitude": "latitude lat latitud breitengrad",
        "position": "wkt geom geometry coordinates coordonnees geopoint",
        "address": "address adresse addr",
        "street": "street strasse rue road voie calle",
        "house": "house civic hausnummer hausnr civique housenumber",
        "side": "side seite cote",
        "land": "owner ownership owned private jurisdiction eigentumer proprietaire",
        "status": "status condition zustand etat estado",
        "site": "site growspace emplacement",
        "stems": "stems trunks stem multistem staemme troncs",
        "note": "note notes comment comments remark remarks bemerkung remarque",
        "surveyed": "surveyed inspected inventoried measured collected erfasst updated",
    }.items()
}

# Headings with these words speak of something else, whatever else they say.
MISLEADING: dict[str, frozenset[str]] = {
    "size": word_set(
        "crown canopy spread height hauteur hohe krone kronendurchmesser couronne houppier clearance class range date "
        "replacement well grate pit"
    ),
    "number": word_set("house civic street address phone parcel ward block district stems stem trunks species permit"),
    "botanical": word_set("family famille code"),
    "common": word_set("family famille"),
    "code": word_set("postal zip post street area ward bar qr"),
    "surveyed": word_set("planted plant planting plantation pflanzjahr pruned pruning removed removal gepflanzt"),
    "address": word_set("email mail web ip"),
    "street": word_set("number no side cross type class from to"),
    "status": word_set("utility wire sidewalk"),
    "stems": word_set("diameter dbh height circumference"),
    "site": word_set("address id"),
}

SIZE_UNITS: dict[str, str] = {
    "in": "in", "inch": "in", "inches": "in", "zoll": "in", "pouces": "in", "po": "in",
    "cm": "cm", "centimetres": "cm", "centimeters": "cm", "centimetre": "cm", "zentimeter": "cm",
    "mm": "mm", "millimetres": "mm", "millimeters": "mm", "m": "m", "metres": "m", "meters": "m",
}  # fmt: skip
GIRTH_WORDS = (
    "girth", "circumference", "circonf", "umfang", "umfg", "perimet", "omtrek", "obwod", "circ", "omkrets",
)  # fmt: skip

# Among headings that all look like the tree's number, the ones a town keeps for good come first.
STEADY_NUMBERS = ("tree", "struct", "baum", "arbre", "arbol", "inventory", "asset", "tag", "facility", "unit")
PASSING_NUMBERS = frozenset({"objectid", "fid", "gid", "ogc fid", "gml id", "column 1"})


def heading_words(heading: str) -> str:
    """A heading in small plain words: "spc_Latin" and "SpcLatin" both give "spc latin".

    >>> heading_words("TreeID"), heading_words("DBH (in)"), heading_words("Höhe_m")
    ('tree id', 'dbh in', 'hohe m')
    """
    parted = re.sub(r"(?<=[a-zà-ÿ])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])", " ", heading)
    spread = unicodedata.normalize("NFKD", parted.casefold())
    letters = "".join(one if one.isalnum() else " " for one in spread if not unicodedata.combining(one))
    return " ".join(letters.split())


def heading_score(field: str, heading: str) -> int:
    """How strongly a heading points to a field: 10 for a known heading, 5 for a known word in it, 0 for none."""
    words = heading_words(heading)
    parts = words.split()
    if MISLEADING.get(field, frozenset()).intersection(parts):
        return 0
    if words in HEADINGS[field] or "".join(parts) in HEADINGS[field]:
        return 10
    return 5 if WORDS[field].intersection(parts) else 0
