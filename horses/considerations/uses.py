"""What is weighed for the horse's use, age and interval."""

from horses.considerations.case import (
    aged,
    both,
    interval_over,
    shod_at_all,
    stages,
    unshod,
    used_for,
)
from horses.considerations.rule import Consideration

_ADAMS = "USDA, Special Report on Diseases of the Horse, Adams on shoeing"
_LUNGWITZ = "Lungwitz & Adams, A Text-Book of Horseshoeing"

USES: tuple[Consideration, ...] = (
    Consideration(
        "endurance_light",
        "use",
        "Distance work: light sections, modest traction",
        "endurance",
        used_for("endurance"),
        weighs="A light, wide-webbed section, little or no traction, and a set that has "
        "been on for a week or two before a ride.",
        reason="Weight at the end of the limb is carried at every stride, and a foot "
        "that grips too well jars.",
        against="Light steel may not last the distance on stone.",
    ),
    Consideration(
        "racing_rule_book",
        "use",
        "Racing: the course's rule book decides on traction",
        "racing",
        used_for("racing"),
        weighs="Read the rules of the body, the surface and the year before any toe "
        "grab, rim or bend.",
        reason="Limits differ by country and surface, and change.",
        source="such as US Thoroughbreds, Rule 2276 (2022): on dirt and synthetic full "
        "rims to 2 mm in front; on turf no traction. Check for later changes",
        against="Nothing: a plate that is not allowed costs the start.",
        caution="High toe grabs go with more grave injuries (from memory): leave them "
        "off where you can.",
    ),
    Consideration(
        "racing_plate_thin",
        "use",
        "Racing plates: a short life, and nails close to the quick",
        "racing, shod",
        both(used_for("racing"), shod_at_all),
        weighs="Small nails, light hand, intervals of about four weeks.",
        reason="Thoroughbred walls are thin, and are plated often.",
        source="a plate about 1/3 in wide and 1/8 in thick: a text-book by Hunting; "
        "intervals: from memory",
        against="Frequent nailing breaks the wall: glue where the rules allow.",
    ),
    Consideration(
        "driving_roads",
        "use",
        "Driving on roads: grip in pairs, and low",
        "driving, shod",
        both(used_for("driving"), shod_at_all),
        weighs="Road nails or small hard-facing, alike left and right, at heel and toe "
        "quarters; a section thick enough for the miles.",
        reason="A driven horse brakes and turns on smooth tarmac with a load behind it.",
        against="More grip than needed jars the limb and holds the foot as it turns.",
    ),
    Consideration(
        "draught_width",
        "use",
        "Draught: width and length of steel",
        "draught, shod",
        both(used_for("draught"), shod_at_all),
        weighs="A wide, thick section with branches to the bulbs, clips that hold.",
        reason="Pulling puts the load on toe and heel in turn, and much of it.",
        source=f"branches may reach the bulbs: {_LUNGWITZ}",
        against="Weight tires, and long branches invite treading.",
    ),
    Consideration(
        "jumping_studs",
        "use",
        "Studs: in pairs, low, out again after work",
        "jumping or eventing, shod",
        both(used_for("jumping", "eventing"), shod_at_all),
        weighs="Holes on both branches, studs only where the going asks, the lowest that "
        "will do, out before travelling.",
        reason="One stud tilts the foot; a high one holds it as the limb turns.",
        against="Without them a horse may slip at take-off: the rider judges the going.",
        caution="Studs left in wound the other limb and people's feet.",
    ),
    Consideration(
        "fast_work_close_heels",
        "use",
        "Fast work in company: close in front, set under behind",
        "hunting, eventing, polo or racing; shod",
        both(used_for("hunting", "eventing", "polo", "racing"), shod_at_all),
        weighs="Front heels to the buttress and safe; hind toes set under, quarter clips.",
        reason="At speed and in mud a hind toe takes hold of a fore heel.",
        against="Short heels in front give less support to under-run ones.",
    ),
    Consideration(
        "dressage_turns",
        "use",
        "Dressage: even pairs that can turn",
        "dressage, shod",
        both(used_for("dressage"), shod_at_all),
        weighs="Fullered or concave without studs, left and right alike in mass; hind "
        "heels well supported.",
        reason="Collected and lateral work turns the loaded foot on sand.",
        against="On grass a little traction may be wanted.",
    ),
    Consideration(
        "western_stops",
        "use",
        "Western: behind, does it slide or hold?",
        "western, shod",
        both(used_for("western"), shod_at_all),
        weighs="For sliding stops wide smooth plates behind; for cutting and trail "
        "ordinary hinds. Ask which.",
        reason="A foot that grips in a long stop strains hock and back.",
        against="Sliders are slippery on any road.",
        caution="A horse in sliding plates must not be ridden on hard roads.",
    ),
    Consideration(
        "school_wear",
        "use",
        "Daily work: steel to last the interval",
        "riding school or hacking, shod",
        both(used_for("school", "hacking"), shod_at_all),
        weighs="A section thick enough for the interval, and no thicker.",
        reason="A shoe should outlast four weeks' wear, and need not last ten.",
        source=f"about four weeks of wear: {_ADAMS}",
        against="Thick steel lifts the frog off the ground and weighs.",
    ),
    Consideration(
        "work_unshod",
        "use",
        "Working without shoes: does wear keep within growth?",
        "unshod, and endurance, driving, draught, hunting, school or hacking",
        both(
            used_for("endurance", "driving", "draught", "hunting", "school", "hacking"),
            unshod,
        ),
        weighs="Measure toe and sole at each visit; boots or shoes in front when wear "
        "runs ahead of growth.",
        reason="In semi-feral ponies change of length came from wear, not slower growth.",
        source="Florence L, McDonnell SM (2006) EVJ 38(7):642-645",
        against="A horse that comes home short on stones is past waiting for.",
    ),
    Consideration(
        "rest_without_shoes",
        "use",
        "At rest: are shoes still needed?",
        "retired, companion or breeding, and shod",
        both(used_for("retired", "companion", "breeding"), shod_at_all),
        weighs="Pull at least the hinds, or all, at a season when the ground is kind.",
        reason="Bare feet were found with fewer under-run heels, wider heels and larger "
        "frogs.",
        source="de Klerk (2021) bioRxiv 2021.02.23.432452: 98 shod and 69 bare feet",
        against="Some feet need their shoes for soundness, also at rest: ask why they "
        "were put on.",
        caution="Not in a horse with known laminitis or lameness without the vet's word.",
    ),
    Consideration(
        "broodmare_hinds",
        "use",
        "A broodmare: nothing behind that can hurt",
        "breeding, shod",
        both(used_for("breeding"), shod_at_all),
        weighs="Hind shoes off for covering and foaling.",
        reason="A shod kick hurts a stallion, a foal or a person more.",
        against="Hard ground may need fronts left on.",
        caution="Stand clear, and have the mare held by someone who knows her.",
    ),
    Consideration(
        "aged_horse_care",
        "use",
        "An old horse: low, short and eased",
        "twenty years or more",
        aged(20),
        weighs="Hold the feet low and not for long, one rest between; toes rolled, "
        "sections light.",
        reason="Stiff joints bend less, and the toe is lifted less.",
        against="If standing on three legs hurts, ask a vet about pain relief before "
        "the visit.",
    ),
    Consideration(
        "interval_long",
        "use",
        "More than eight weeks: bring the visits together",
        "shod, and more than eight weeks between visits",
        both(shod_at_all, interval_over(8)),
        weighs="Six weeks or so, fewer in the growing season.",
        reason="Over eight weeks the toe grew by about a centimetre and a half, and the "
        "load moved back.",
        source="van Heel MCV et al. (2005) EVJ 37(6):536-540, growth as quoted by others",
        against="The owner's purse, and a wall that has little room for new holes.",
    ),
    Consideration(
        "show_rules",
        "use",
        "Showing: class rules on shoes, pads and length",
        "showing",
        used_for("showing"),
        weighs="Read the class's rule book before pads, weight or length are chosen.",
        reason="Several show bodies limit shoe size, pads or hoof length.",
        source="such as FEIF (2010): hoof to 9.5 cm, 10.0 cm from 145 cm height; later "
        "lowered. Check for this year's",
        against="Nothing: a shoe that is not allowed costs the class.",
    ),
    Consideration(
        "foal_first_visit",
        "use",
        "A foal: first look early, then often",
        "a foal",
        stages("foal"),
        weighs="First look at three to four weeks, no later than two months, then every "
        "three to four weeks; teach it to stand.",
        reason="What is seen early can still be shown to a vet in time.",
        source="trade pages",
        against="A foal that is frightened learns to fear the farrier: keep it short.",
    ),
)
