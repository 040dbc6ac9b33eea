"""Words for the classes and codes of vector charts (IHO S-57 edition 3.1, appendix A)."""

from __future__ import annotations

from typing import Final

HAZARD_KINDS: Final[dict[str, str]] = {
    "UWTROC": "rock", "WRECKS": "wreck", "OBSTRN": "obstruction", "PILPNT": "pile",
    "WATTUR": "water turbulence", "SNDWAV": "sand waves", "WEDKLP": "weed or kelp",
    "CBLSUB": "submarine cable", "CBLARE": "cable area", "CBLOHD": "overhead cable",
    "PIPSOL": "pipeline", "PIPARE": "pipeline area", "PIPOHD": "overhead pipeline",
    "RESARE": "restricted area", "CTNARE": "caution area", "PRCARE": "precautionary area",
    "DMPGRD": "dumping ground", "MIPARE": "military practice area", "SPLARE": "sea-plane area",
    "FAIRWY": "fairway", "DWRTPT": "deep water route", "DWRTCL": "deep water route",
    "TSSLPT": "traffic lane", "TSEZNE": "traffic separation zone",
    "TSELNE": "traffic separation line", "TSSBND": "traffic separation boundary",
    "TSSCRS": "traffic crossing", "TSSRON": "traffic roundabout", "ISTZNE": "inshore traffic zone",
    "TWRTPT": "two-way route", "RCRTCL": "recommended route", "RECTRC": "recommended track",
    "FERYRT": "ferry route", "SUBTLN": "submarine transit lane", "DRGARE": "dredged area",
    "ACHARE": "anchorage", "ACHBRT": "anchor berth", "MORFAC": "mooring",
    "MARCUL": "marine farm", "FSHFAC": "fishing gear fixed in place", "FSHGRD": "fishing ground",
    "FSHZNE": "fishery zone", "OFSPLF": "platform", "OSPARE": "production area",
    "OILBAR": "oil barrier", "FLODOC": "floating dock", "HULKES": "hulk", "PONTON": "pontoon",
    "DAMCON": "dam", "BRIDGE": "bridge", "GATCON": "gate", "DYKCON": "dyke",
    "SLCONS": "shore works", "LNDARE": "land",
}  # fmt: skip
"""Our word for each object class that matters to a drifting boat."""

WATER_LEVEL: Final = {
    1: "partly under water at high water", 2: "always dry", 3: "always under water",
    4: "covers and uncovers", 5: "awash", 6: "may flood", 7: "floating",
}  # fmt: skip
RESTRICTION: Final = {
    1: "anchoring prohibited", 2: "anchoring restricted", 3: "fishing prohibited",
    4: "fishing restricted", 5: "trawling prohibited", 6: "trawling restricted",
    7: "entry prohibited", 8: "entry restricted", 9: "dredging prohibited",
    10: "dredging restricted", 11: "diving prohibited", 12: "diving restricted", 13: "no wake",
    14: "to be avoided", 15: "construction prohibited", 16: "discharging prohibited",
    17: "discharging restricted", 18: "industrial or mineral work prohibited",
    19: "industrial or mineral work restricted", 20: "drilling prohibited",
    21: "drilling restricted", 22: "removal of historical objects prohibited",
    23: "cargo transfer prohibited", 24: "dragging prohibited", 25: "stopping prohibited",
    26: "landing prohibited", 27: "speed restricted",
}  # fmt: skip
