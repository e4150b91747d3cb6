"""Random builds of every class: one to three classes, subclasses, gear, and every choice answered."""

from hypothesis import strategies as st

from engine.build.document import Build
from tests.engine.sheet.filled import filled
from tests.engine.sheet.make import build, catalog, pick

CLASSES = tuple(n.id for n in catalog().every("class"))
SPECIES = tuple(
    n.id
    for n in catalog().every("species")
    # Where a species has subspecies one of them is named.
    if not catalog().subspecies(n.id)
)
GEAR = (
    "leather-armor", "padded-armor", "chain-shirt", "half-plate", "chain-mail", "plate-armor", "leather-armor +1",
    "shield", "shield +2", "rapier", "rapier +1", "dagger", "2 dagger", "quarterstaff", "greatsword", "longsword",
    "shortsword", "handaxe", "longbow", "hand-crossbow", "blowgun", "net", "unarmed", "20 arrow", "explorers-pack",
)  # fmt: skip
ATTUNED = (
    "cloak-of-protection", "belt-of-hill-giant-strength", "amulet-of-health", "ioun-stone-of-mastery",
    "bracers-of-defense", "flame-tongue", "headband-of-intellect", "boots-of-striding-and-springing",
)  # fmt: skip
STATES = ("rage", "mage-armor", "haste", "exhaustion-4", "barkskin", "shillelagh", "hunters-mark", "poisoned")
SCORES = st.lists(st.integers(3, 18), min_size=6, max_size=6)


@st.composite
def builds(draw: st.DrawFn) -> Build:
    """A build of 1 to 20 levels; choices are answered by a seed, so that a failure shrinks to a small one."""
    classes = draw(st.lists(st.sampled_from(CLASSES), min_size=1, max_size=3, unique=True))
    lengths = [draw(st.integers(1, 20 // len(classes))) for _ in classes]
    subclasses = {}
    for class_id, length in zip(classes, lengths, strict=True):
        found = catalog().class_(class_id)
        assert found is not None
        if length >= found.subclass_level and draw(st.booleans()):
            subclasses[class_id] = draw(st.sampled_from([s.id for s in catalog().subclasses(class_id)]))
    gear = draw(st.lists(st.sampled_from(GEAR), max_size=6))
    magic = draw(st.lists(st.sampled_from(ATTUNED), max_size=2, unique=True))
    document = build(
        ", ".join(f"{c} {n}" for c, n in zip(classes, lengths, strict=True)),
        " ".join(map(str, draw(SCORES))),
        species=(draw(st.sampled_from(SPECIES)),),
        background=("Chart Copyist",),
        gear=[*(g for g in gear if g != "unarmed"), *(pick(m, "attuned") for m in magic)],
        subclasses=subclasses,
    )
    return filled(document, catalog(), draw(st.integers(0, 2**16)))
