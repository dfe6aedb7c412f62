"""What is weighed for what a foot shows: distortion, condition, flags of its figures."""

from horses.considerations.case import (
    both,
    either,
    flagged,
    found,
    interval_over,
    on_fore,
    opposite_heels,
    shod_there,
    stages,
)
from horses.considerations.rule import Consideration

_GROWN = stages("mature", "unknown")
_ADAMS = "USDA, Special Report on Diseases of the Horse, Adams on shoeing"
_MOLEMAN = (
    "Moleman M et al. (2006) EVJ 38(2):170-174: nine horses, the coffin joint's moment "
    "rose over eight weeks"
)
_ELIASHAR = (
    "Eliashar E et al. (2004) EVJ 36(5):431-435: navicular force rises as the bone's "
    "angle falls"
)
_DAHL = "Dahl VE et al. (2023) Animals 13(11):1872: nails behind the quarters cut it"
_HEELS = ("medial_heel", "lateral_heel")
_TOE = ("toe", "medial_toe_quarter", "lateral_toe_quarter")
_QUARTERS = ("medial_quarter", "lateral_quarter", *_HEELS)

FEET: tuple[Consideration, ...] = (
    Consideration(
        "long_toe",
        "foot",
        "Long toe: bring the breakover back",
        "a long toe is noted",
        found("long_toe"),
        weighs="Dress the toe from above within sound horn; roll the shoe's toe or set "
        "it under, and shorten the interval.",
        reason="Each millimetre of toe lengthens the lever at breakover.",
        source=_MOLEMAN,
        against="A sole that is thin at the toe leaves little to dress; set under, the "
        "wall ahead of the steel can break away.",
    ),
    Consideration(
        "low_angle_front",
        "foot",
        "Flat fore feet: save the heels",
        "a fore foot's toe angle is below 50°",
        on_fore(flagged("low_angle")),
        weighs="Take from the toe rather than from the heel; support at the heel by the "
        "branches' length.",
        reason="The lower the angle, the more the deep flexor and the navicular area bear.",
        source=f"{_ELIASHAR}; class 'flat': Wiggers N et al. (2015) PLoS ONE 10(2)",
        against="Angle alone says little: some horses are sound for life on flat feet.",
    ),
    Consideration(
        "low_angle_interval",
        "foot",
        "Low angle and a long interval: come sooner",
        "a toe angle below 50° and more than six weeks between visits",
        both(flagged("low_angle"), interval_over(6)),
        weighs="Four to six weeks for this horse.",
        reason="The foot with the lowest angle is the best guide to the interval.",
        source=_MOLEMAN,
        against="Short intervals leave less wall to nail into.",
    ),
    Consideration(
        "underrun_heel",
        "foot",
        "Under-run heel: support behind it",
        "an under-run heel is noted or flagged",
        either(found("underrun_heel"), flagged("underrun_heel")),
        weighs="Dress the heel back to where horn is sound; carry it with length, a "
        "wider web or a bar behind the buttress.",
        reason="The tubules lie down under load ahead of where the limb's load comes.",
        source=f"length about 2 × thickness for the acute foot: {_ADAMS}",
        against="A wedge alone lifts the angle and crushes the same horn further; length "
        "in front may be pulled off.",
    ),
    Consideration(
        "opposite_heels",
        "foot",
        "One heel flared, the other under-run: opposite moves",
        "one heel flared and the other under-run on the same foot",
        opposite_heels,
        weighs="Fit to the sound foot, not to the horn: steel toward the middle of the "
        "foot at the flared heel, outward at the under-run one.",
        reason="The capsule has slid to one side; the load's line has not.",
        against="Outward steel can be trodden on: keep it behind the last nail and "
        "within the practice's limit.",
    ),
    Consideration(
        "sheared_heels",
        "foot",
        "Sheared heels: let the high one come down",
        "sheared heels are noted or flagged",
        either(found("sheared_heels"), flagged("sheared_heels")),
        weighs="Lower or float the high heel, and carry both on a bar where they move "
        "against each other.",
        reason="The higher heel meets the ground first and is driven up.",
        source="5 mm or more apart: O'Grady SE, equipodiatry.com/news/63",
        against="A floated heel needs a bar shoe that is kept to its interval.",
    ),
    Consideration(
        "contracted_heels",
        "foot",
        "Contracted heels: room to spread",
        "contracted heels are noted or flagged",
        either(found("contracted_heels"), flagged("contracted_heels")),
        weighs="Last nail not behind the widest part, branches fuller behind it, frog on "
        "duty; time without shoes where the work allows.",
        reason="Heels that are nailed fast can't move apart.",
        source=f"{_DAHL}; fullness to 1/8 in (3 mm): {_ADAMS}",
        against="If a lame horse spares the heel, contraction follows the pain: ask a "
        "vet why.",
    ),
    Consideration(
        "flare_dressed",
        "foot",
        "Flare: dress it, and fit to the sound line",
        "a flare is noted",
        found("flare"),
        weighs="Dress the flare in the lower third; fit the shoe to the line the wall has "
        "near the coronet.",
        reason="A flared wall is a lever that pulls at its own white line.",
        against="Taken too far up, the wall is thin where the nails go.",
    ),
    Consideration(
        "high_side",
        "foot",
        "One side high: level to the limb, in steps",
        "a high side is noted, or wall heights differ",
        either(found("high_side"), flagged("uneven_walls")),
        weighs="Bring the sides nearer each other over several visits, watching how the "
        "foot lands.",
        reason="The high side is often the one that carries, grown up against its load.",
        source="5 mm at the quarters: ours, the heels' limit of O'Grady SE, "
        "equipodiatry.com/news/63",
        against="A mature limb that isn't straight may need walls that aren't level.",
        is_lasting=True,
    ),
    Consideration(
        "club_foot_low_grade",
        "foot",
        "A mild club foot: ease the toe, keep the heel",
        "a club foot of grade 1 or 2 in a mature horse",
        both(_GROWN, found("club_foot", grades=("1", "2"))),
        weighs="Roll the toe; take the heel only as it grows; fit its pair by itself.",
        reason="The tendon side sets the angle, and a forced heel puts strain on it.",
        source="grades after Redden: Equus, October 2014",
        against="If the heel grows fast or the toe dishes, a vet's pictures first.",
    ),
    Consideration(
        "axis_broken_back",
        "foot",
        "Axis broken back: less toe, more behind",
        "the hoof-pastern axis is broken back",
        flagged("broken_back_axis"),
        weighs="Shorten the toe and set breakover back before the heel is raised.",
        reason="The coffin joint stands extended, and the navicular area bears more.",
        source=_ELIASHAR,
        against="One photo errs by about three degrees: measure again, foot loaded "
        "squarely.",
    ),
    Consideration(
        "axis_broken_forward",
        "foot",
        "Axis broken forward: heels down little by little, if at all",
        "the hoof-pastern axis is broken forward",
        flagged("broken_forward_axis"),
        weighs="Lower the heel only where it has overgrown; roll the toe.",
        reason="A tight deep flexor holds the heel up: it doesn't lengthen by trimming.",
        against="Left alone, a merely overgrown heel gets worse.",
        caution="A heel that lifts off after it was lowered was needed: put it back.",
    ),
    Consideration(
        "uneven_pair",
        "foot",
        "An uneven pair: each foot for itself",
        "left and right toe angles differ",
        flagged("uneven_pair"),
        weighs="Trim each to its own limb; keep mass and wear of the two alike; watch "
        "the difference over the year.",
        reason="Unequal feet are common, also in sound horses.",
        source="over 1.5° is uneven: Wiggers N et al. (2015) PLoS ONE 10(2):e0114836",
        against="A difference that grows is a reason to ask a vet.",
    ),
    Consideration(
        "crack_at_the_toe",
        "foot",
        "A crack at the toe: take the lever off it",
        "a crack at the toe or a toe quarter that is not unstable",
        found("crack", places=_TOE, but=("unstable",)),
        weighs="Roll the toe or set it under, clips either side, no nail beside the crack.",
        reason="Breakover pries the edges apart with each step.",
        against="Quarter clips need sound wall to hold.",
    ),
    Consideration(
        "crack_at_the_quarter",
        "foot",
        "A crack at quarter or heel: unload the wall behind it",
        "a crack at a quarter or heel that is not unstable",
        found("crack", places=_QUARTERS, but=("unstable",)),
        weighs="Float the wall from the crack back and carry the foot on a bar; look for "
        "a sheared heel on that side.",
        reason="A heel that is pushed up tears the wall ahead of it.",
        against="A bar shoe is heavier and less sure in mud.",
    ),
    Consideration(
        "white_line_open",
        "foot",
        "White line disease: open, clean, dry",
        "white line disease that is not marked",
        found("white_line_disease", but=("marked",)),
        weighs="Take away the wall over the cavity until horn is sound; nail and clip "
        "elsewhere; look again soon.",
        reason="What grows in there wants the dark.",
        against="Much wall taken needs another way to carry: with a vet.",
    ),
    Consideration(
        "wall_lost",
        "foot",
        "Wall lost: fewer nails, better placed",
        "wall loss is noted",
        found("wall_loss"),
        weighs="Clips, finer nails, holes where horn is sound; glue or a longer wait "
        "where there is none.",
        reason="Each hole in poor horn makes the next loss.",
        against="Too few nails in deep going lose the shoe and more wall.",
    ),
    Consideration(
        "thrush_kept_dry",
        "foot",
        "Thrush: open, clean and dry",
        "thrush that is not marked",
        found("thrush", but=("marked",)),
        weighs="Trim ragged frog, keep the grooves open, no full pad over it; say to the "
        "owner what the bedding does.",
        reason="It lives in wet and dirt without air.",
        against="Frog cut too far back no longer carries.",
    ),
    Consideration(
        "bruise_protected",
        "foot",
        "A bruised sole: keep steel and stones off it",
        "a bruise that is not marked",
        found("bruise", but=("marked",)),
        weighs="Seat the web out over it, or a wider web or pad for a time; look for the "
        "branch that pressed there.",
        reason="The stain shows where load came that the sole isn't made for.",
        against="A pad holds dirt and moisture: look under it in time.",
    ),
    Consideration(
        "collapsed_bars",
        "foot",
        "Collapsed bars: bring them back under control",
        "collapsed bars are noted",
        found("collapsed_bars"),
        weighs="Trim what lies over the sole; carry the heel with length or a bar.",
        reason="Bars that lie over press the sole beneath them.",
        against="Taken out whole, the heel loses its prop.",
    ),
    Consideration(
        "long_branches_in_front",
        "foot",
        "Support behind in front: guard the shoe",
        "an under-run heel on a shod fore foot",
        both(
            on_fore(either(found("underrun_heel"), flagged("underrun_heel"))),
            shod_there,
        ),
        weighs="Length no further than the bulbs, hind toes set under, overreach boots "
        "for turnout.",
        reason="The hind foot comes down where the fore heel is.",
        source="1/8–1/4 in past the buttress, never past the bulbs: trade page",
        against="Boots rub when they stay on for days.",
    ),
)
