"""What the headings of a table's columns mean, in ten languages.

English, German, French, Dutch, Danish, Norwegian, Swedish, Spanish, Portuguese and Italian.  Case,
accents, punctuation and a unit at the end do not matter: ``Länge (cm)`` and ``LAENGE_CM`` are one.
"""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import Final, NamedTuple

ENGLISH: Final[dict[str, tuple[str, ...]]] = {
    "time": ("time", "datetime", "date time", "timestamp", "when", "caught", "caught at", "clock"),
    "date": ("date", "day"),
    "species": ("species", "fish", "kind", "what"),
    "length": ("length", "len", "size", "total length"),
    "kept": ("kept", "keep", "keeper", "retained", "fate", "result", "kept or released"),
    "released": ("released", "short"),
    "count": ("count", "quantity", "qty", "how many", "number of fish", "fish count"),
    "rod": ("rod", "rod no", "rod number", "line"),
    "person": ("person", "angler", "who", "fisher", "crew"),
    "bait": ("bait", "lure", "baits"),
    "lead": ("lead", "sinker", "lead weight"),
    "angle": ("angle", "line angle"),
    "contact": ("contact", "bottom contact", "on bottom"),
    "note": ("note", "notes", "comment", "comments", "remark", "remarks"),
    "latitude": ("latitude", "lat", "y"),
    "longitude": ("longitude", "long", "lon", "lng", "x"),
    "position": ("position", "pos", "gps", "coordinates", "location", "lat lon", "place"),
    "depth": ("depth", "sounding", "water depth", "bottom depth"),
    "temperature": ("temperature", "temp", "water temperature", "water temp", "wtemp", "sea temp"),
    "height": ("height", "prediction", "pred", "level", "tide"),
    "event": ("event", "kind", "type", "high low"),
    "speed": ("speed", "wind speed", "wind speed 10m", "velocity", "velocity major"),
    "from": ("from", "direction", "wind direction", "dir", "wind dir", "wind direction 10m"),
    "gust": ("gust", "gusts", "wind gust", "wind gusts", "wind gusts 10m"),
    "wind": ("wind", "winds", "wind forecast"),
}
"""English names by meaning.  A name may have several: the reader of a table says which it takes."""

CATCH_MEANINGS: Final = (
    "time", "date", "species", "length", "kept", "released", "count", "rod", "person", "bait",
    "lead", "angle", "contact", "note", "latitude", "longitude", "position",
)  # fmt: skip
"""What the columns of a catch log may mean."""

_OTHERS: Final[dict[str, str]] = {
    "time": "time utc, utc, utc time, iso time, gps time, zeit, uhrzeit, zeitpunkt, datum uhrzeit, "
    "heure, date heure, horaire, tijd, tijdstip, datum tijd, tid, tidspunkt, klokkeslæt, klokken, "
    "klokkeslett, tidpunkt, klockslag, klockan, hora, fecha hora, data hora, ora, orario, data ora",
    "date": "date utc, datum, tag, jour, dag, dato, fecha, día, data, dia, giorno",
    "species": "fischart, fisch, art, espèce, poisson, vissoort, soort, vis, fiskeart, fisk, "
    "fiskeslag, fiskart, especie, pez, pescado, espécie, peixe, specie, pesce",
    "length": "länge, laenge, größe, gesamtlänge, longueur, taille, lengte, maat, længde, lengde, "
    "størrelse, längd, storlek, longitud, talla, largo, comprimento, tamanho, lunghezza, misura, "
    "taglia",
    "kept": "behalten, entnommen, mitgenommen, gardé, gardée, conservé, behouden, meegenomen, "
    "beholdt, hjemtaget, behållen, behölls, guardado, conservado, retenido, retido, mantido, "
    "tenuto, trattenuto",
    "released": "zurückgesetzt, freigelassen, relâché, remis à l'eau, teruggezet, genudsat, "
    "gjenutsatt, sluppet, återutsatt, släppt, devuelto, liberado, soltado, solto, devolvido, "
    "libertado, rilasciato",
    "count": "anzahl, stück, stückzahl, nombre, aantal, antal, antall, stk, cantidad, quantidade, "
    "quantità",
    "rod": "rute, angel, canne, hengel, stang, spö, caña, cana, canna",
    "person": "angler, fischer, pêcheur, visser, fisker, lystfisker, fiskare, pescador, pescatore",
    "bait": "köder, appât, aas, agn, bete, cebo, isco, esca",
    "lead": "blei, plomb, lood, bly, lodd, sänke, plomo, chumbo, piombo",
    "angle": "winkel, schnurwinkel, hoek, lijnhoek, vinkel, ángulo, ângulo, angolo",
    "contact": "grundkontakt, bodemcontact, bundkontakt, bunnkontakt, bottenkontakt, contacto, "
    "contatto",
    "note": "notiz, bemerkung, bemerkungen, anmerkung, kommentar, remarque, remarques, "
    "commentaire, opmerking, opmerkingen, notitie, bemærkning, bemærkninger, merknad, anteckning, "
    "anteckningar, nota, notas, comentario, comentarios, observaciones, comentário, comentários, "
    "observações, commento, osservazioni",
    "latitude": "breite, breitengrad, breedte, breedtegraad, bredde, breddegrad, latitud, "
    "latitudine",
    "longitude": "länge, laenge, längengrad, lengte, lengtegraad, længde, længdegrad, lengde, "
    "lengdegrad, längd, längdgrad, longitud, longitudine",
    "position": "koordinaten, standort, coordonnées, coördinaten, positie, koordinater, posisjon, "
    "posición, coordenadas, posição, posizione, coordinate",
    "depth": "tiefe, wassertiefe, profondeur, sonde, diepte, waterdiepte, dybde, djup, "
    "profundidad, profundidade, profondità",
    "temperature": "temperatur, wassertemperatur, température, temperatuur, watertemperatuur, "
    "vandtemperatur, vanntemperatur, vattentemperatur, temperatura",
    "height": "höhe, wasserstand, pegel, hauteur, hoogte, waterstand, højde, vandstand, høyde, "
    "vannstand, höjd, vattenstånd, altura, nivel, altezza, livello",
    "event": "art, typ, ereignis, événement, soort, tipo, hw nw, pm bm, strom, strömung, courant, "
    "stroom, strøm, ström, corriente, corrente, marea, marée, maré, tidvatten, tidevand, getij",
    "speed": "geschwindigkeit, windgeschwindigkeit, vitesse, snelheid, windsnelheid, hastighed, "
    "vindhastighed, vindstyrka, vindstyrke, "
    "fart, hastighet, vindhastighet, velocidad, velocidade, velocità",
    "from": "aus, richtung, windrichtung, richting, windrichting, fra, retning, vindretning, från, "
    "riktning, vindriktning, desde, dirección, direção, da, direzione",
    "gust": "böe, böen, rafale, rafales, vlaag, vlagen, windstoten, vindstød, kast, vindkast, "
    "byvind, byar, byer, vindbyar, "
    "racha, rachas, ráfaga, ráfagas, rajada, rajadas, raffica, raffiche",
    "wind": "vent, viento, vento, vind",
}
"""Names in the nine other languages, and what devices write."""

_UNIT: Final = re.compile(
    r"[\s_]*(?:[\[(]\s*([^\])]*?)\s*[\])]|"
    r"[\s_](?:(?:in|en)\s+)?(m|met(?:er|re)s?|ft|feet|fm|fathoms?|in|inch|inches|cm|mm|kn|kts?|knots?|m/s|mps|"
    r"ms|mph|km/?h|kmh|bft|deg|degrees|c|f|utc|gmt))\s*$"
)
_LONGEST: Final = 200
"""Characters of a heading that count: the time of the search grows with the square."""
_LETTERS: Final = str.maketrans(
    {"ß": "ss", "æ": "ae", "ø": "o", "å": "a", "ä": "a", "ö": "o", "ü": "u", "ð": "d", "œ": "oe"}
)


class Heading(NamedTuple):
    """A heading without its unit, in plain letters, and the unit ("" if it names none)."""

    name: str
    unit: str


def plain(text: str) -> str:
    """Give a name in lower case, without accents, with single spaces for ``_ . - / : ? ! ,``."""
    letters = text.casefold()
    if not letters.isascii():
        decomposed = unicodedata.normalize("NFKD", letters.translate(_LETTERS))
        letters = "".join(one for one in decomposed if not unicodedata.combining(one))
    return re.sub(r"[\s_.\-/:?!,;'\"#*]+", " ", letters).strip()


def read_heading(text: str) -> Heading:
    """Part a heading into its name and its unit.

    >>> read_heading("Länge (cm)")
    Heading(name='lange', unit='cm')
    >>> read_heading("height_ft")
    Heading(name='height', unit='ft')
    """
    return _parted(text[:_LONGEST])


@lru_cache(maxsize=1024)
def _parted(text: str) -> Heading:
    match = _UNIT.search(text.strip().casefold())
    if match is None or not text.strip()[: match.start()].strip():
        return Heading(plain(text), "")
    unit = match[1] if match[1] is not None else match[2]
    return Heading(plain(text.strip()[: match.start()]), unit.strip())


_NAMES: Final[dict[str, frozenset[str]]] = {
    meaning: frozenset(plain(name) for name in (*names, *_OTHERS.get(meaning, "").split(",")))
    - {""}
    for meaning, names in ENGLISH.items()
}
_JOINED: Final = {
    meaning: frozenset(name.replace(" ", "") for name in names) for meaning, names in _NAMES.items()
}
_NUMBERED: Final = re.compile(r"\s*(?:\b(?:no|nr|nummer|num)|n°|№)$")
_DATE_OF: Final = re.compile(r"^(\w+) (?:de|du|des|d|del|della|di|do|da|der|van|af|av|of|for) .+")


def _guessed(heading: str, name: str, free: Sequence[str]) -> str | None:
    """Give the meaning of a heading that is not a known name, of meanings that no column has yet.

    ``FISCH-Art`` is ``Fischart``, ``Rute Nr.`` a ``Rute``, ``Köder / Farbe`` a ``Köder`` and
    ``Date de sortie`` a ``date``.
    """
    first = read_heading(heading[:_LONGEST].partition("/")[0]).name
    names = (name.replace(" ", ""), _NUMBERED.sub("", name), first if "/" in heading else "")
    for one in free:
        if any(guess in _JOINED[one] or guess in _NAMES[one] for guess in names if guess):
            return one
    dated = _DATE_OF.match(name)
    return "date" if dated and "date" in free and dated[1] in _NAMES["date"] - {"tag"} else None


def meanings_of(headings: Sequence[str], among: Iterable[str]) -> list[str | None]:
    """Say what each heading means, of the meanings that a reader takes; the first that fits.

    Names of both a length and a longitude (``Länge``, ``longitud``) mean a longitude where another
    column is the latitude, none else the longitude, and no unit says otherwise.
    """
    wanted = list(among)
    read = [read_heading(heading) for heading in headings]
    meanings = [next((one for one in wanted if name in _NAMES[one]), None) for name, _ in read]
    free = [one for one in wanted if one not in set(meanings)]
    for at, heading in enumerate(headings):
        if meanings[at] is None and (one := _guessed(heading, read[at].name, free)):
            meanings[at] = one
            free.remove(one)
    counts = Counter(meanings)
    for at, (name, unit) in enumerate(read):
        both = {"length", "longitude"} <= set(wanted) and all(
            name in _NAMES[one] for one in ("length", "longitude")
        )
        if both:
            counts[meanings[at]] -= 1
            placed = counts["latitude"] and not counts["longitude"] and not unit
            meanings[at] = "longitude" if placed else "length"
            counts[meanings[at]] += 1
    return meanings


WATER_MEANINGS: Final = (
    "time", "date", "height", "event", "speed", "from", "gust", "latitude", "longitude", "depth",
    "wind",
)  # fmt: skip
"""Of columns of tide, current and wind."""


def of_wind(meanings: Iterable[str | None]) -> bool:
    """Whether columns of these `WATER_MEANINGS` are a table of wind.

    >>> of_wind(["time", "speed", "from"]), of_wind(["time", "speed", "event"])
    (True, False)
    """
    meant = set(meanings)
    return bool(meant & {"wind", "gust", "from"}) and "event" not in meant
