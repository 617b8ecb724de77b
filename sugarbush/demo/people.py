"""The invented people, groups, owners and depots of Quillhaven. Addresses end in .example, which nobody can own."""

from __future__ import annotations

from dataclasses import dataclass

PLACE = "Quillhaven"
PROGRAMME = "Quillhaven sugarbush"
# The zone the lake lies in; its clocks go forward in the middle of the season.
TIME_ZONE = "America/Detroit"
GROUPS = ("North Bank", "Mill Race", "Lantern Green")


@dataclass(frozen=True)
class DemoPerson:
    """One member of the programme. A role without a group holds for the whole programme."""

    key: str
    display_name: str
    roles: tuple[tuple[str, str | None], ...]
    credentials: tuple[str, ...] = ("waiver",)
    units: str = "us"
    carry_limit_g: int = 20_000
    age_band: str = "adult"

    @property
    def email(self) -> str:
        """An address that goes nowhere."""
        return f"{self.key}@quillhaven.example"

    @property
    def group(self) -> str | None:
        """The group of the first role that has one."""
        return next((group for _, group in self.roles if group), None)


@dataclass(frozen=True)
class DemoOwner:
    """Whose trees they are."""

    key: str
    name: str
    kind: str
    """person, public or institution."""
    contact_name: str
    phone: str


@dataclass(frozen=True)
class DemoDepot:
    """Where sap is brought, its tanks with their room, and the groups that bring it."""

    name: str
    address: str
    hours: str
    keyholder: str
    groups: tuple[str, ...]
    tanks: tuple[tuple[str, int], ...]


def people() -> list[DemoPerson]:
    """The dozen, always in the same order."""
    field = ("waiver", "tapping", "checking", "species")
    return [
        DemoPerson("odile", "Odile Brandvold", (("coordinator", None),), (*field, "food"), units="metric"),
        DemoPerson("tamsin", "Tamsin Ferrow", (("lead", "North Bank"), ("steward", None)), field),
        DemoPerson("aldous", "Aldous Pennywick", (("lead", "Mill Race"),), field),
        DemoPerson("perpetua", "Perpetua Lindgarth", (("lead", "Lantern Green"),), field, units="metric"),
        DemoPerson("rafe", "Rafe Lindqvist", (("volunteer", "North Bank"),), field),
        DemoPerson("sunniva", "Sunniva Hartlow", (("volunteer", "North Bank"),), carry_limit_g=12_000),
        DemoPerson("bram", "Bram Osterhaugh", (("volunteer", "Mill Race"),), ("waiver", "tapping")),
        DemoPerson("wilhelmina", "Wilhelmina Tarn", (("volunteer", "Mill Race"),), units="metric", carry_limit_g=9_000),
        DemoPerson("ivo", "Ivo Kettleby", (("volunteer", "Lantern Green"),), ("waiver", "tapping", "species")),
        DemoPerson("cuthbert", "Cuthbert Amadi-Vale", (("depot_keeper", None), ("volunteer", "Lantern Green"))),
        DemoPerson("ingrith", "Ingrith Pellow", (("boil_lead", None),), ("waiver", "fire", "food")),
        DemoPerson("jory", "Jory Vanterpool", (("reviewer", None),)),
    ]  # fmt: skip


def owners() -> list[DemoOwner]:
    """The town body, the school and the private owners. The telephone numbers are of the kind kept for stories."""
    return [
        DemoOwner("town", "Quillhaven Parks and Streets Office", "public", "Marguerite Osei-Flint", "555-0100"),
        DemoOwner("school", "Quill School", "institution", "Benedikt Aurelio", "555-0111"),
        DemoOwner("tollef", "Agnes Tollefray", "person", "Agnes Tollefray", "555-0121"),
        DemoOwner("quarrie", "Desmond Quarrie", "person", "Desmond Quarrie", "555-0122"),
        DemoOwner("ibsley", "Noor Ibsley", "person", "Noor Ibsley", "555-0123"),
        DemoOwner("vanter", "Hester Vantongren", "person", "Hester Vantongren", "555-0124"),
        DemoOwner("mirov", "Lazar Mirovny", "person", "Lazar Mirovny", "555-0125"),
        DemoOwner("okoro", "Philippa Okoro-Lund", "person", "Philippa Okoro-Lund", "555-0126"),
        DemoOwner("starke", "Emmeline Starkweather", "person", "Emmeline Starkweather", "555-0127"),
    ]


PRIVATE_OWNERS = tuple(owner.key for owner in owners() if owner.kind == "person")


def depots() -> list[DemoDepot]:
    """Two depots; a tank's code with its room in millilitres."""
    return [
        DemoDepot("Quay Boathouse", "12 Quay Street", "16:30 to 19:00", "cuthbert", ("North Bank", "Lantern Green"),
                  (("TANK-A", 220_000), ("TANK-B", 220_000), ("TANK-C", 220_000))),
        DemoDepot("Mill Meadow Shed", "3 Barley Lane", "16:30 to 19:00", "cuthbert", ("Mill Race",),
                  (("TANK-D", 220_000), ("TANK-E", 220_000))),
    ]  # fmt: skip
