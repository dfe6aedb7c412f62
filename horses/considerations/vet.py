"""What waits for a vet's word, and what a vet should lead. First of all rules."""

from horses.considerations.case import (
    both,
    built,
    either,
    found,
    on_fore,
    stages,
    used_for,
)
from horses.considerations.rule import Consideration

WAITS = "Shoeing or trimming beyond making the horse safe waits for the vet's word."
NOTHING = "Nothing: a call too many costs little."
_OBEL = "Obel (1948) as in BMC Vet Res (2020) s12917-020-02715-7, table 1"
_AAEP = "American Association of Equine Practitioners, lameness grades 0 to 5"

VET: tuple[Consideration, ...] = (
    Consideration(
        "heat_or_strong_pulse",
        "vet",
        "Heat or a strong digital pulse: call a vet",
        "heat or a strong digital pulse on any foot",
        either(found("heat"), found("strong_pulse")),
        weighs="Call a vet now where the horse also shifts its weight, leans back or is "
        "unwilling to move; today otherwise. Leave the feet as they are until then.",
        reason="A warm foot with a bounding pulse can be an emergency, and work on the "
        "foot can make it worse.",
        against=NOTHING,
        source="Equus, April 2017",
        caution=WAITS,
    ),
    Consideration(
        "stilted_gait",
        "vet",
        "A stilted gait: call a vet now",
        "a stilted gait, Obel 1 or more, or not graded",
        found("laminitic_gait", but=("0",)),
        weighs="Call a vet now, do not make the horse walk, and stand it on deep, soft "
        "bedding where it is.",
        reason="The farrier's part begins with the vet's findings and pictures.",
        against=NOTHING,
        source=_OBEL,
        caution=WAITS,
    ),
    Consideration(
        "lameness_seen",
        "vet",
        "Lameness: a vet first",
        "lameness, AAEP 1 or more, or not graded",
        found("lameness", but=("0",)),
        weighs="A vet looks before the feet are changed; at a walk, today.",
        reason="A change of trim or shoe can hide what is wrong or make it worse.",
        against="A loose or twisted shoe that hurts may have to come off at once.",
        source=_AAEP,
        caution=WAITS,
    ),
    Consideration(
        "object_in_the_foot",
        "vet",
        "A nail or object in the foot: call a vet at once",
        "a nail or object in the foot",
        found("puncture"),
        weighs="If it is safe, leave the object in place, keep the foot off the ground "
        "that would drive it in, and have the vet see it as it is.",
        reason="Its depth and direction decide what happens next, and a picture shows "
        "them only while it is there.",
        against="An object that is about to be driven deeper may have to be taken out: "
        "then note place, depth and direction.",
        source="americanfarriers.com 13770; leaving it in place: from memory",
        caution=WAITS,
    ),
    Consideration(
        "wound_or_hot_swelling",
        "vet",
        "A wound or hot swelling: a vet today",
        "a wound or hot swelling near the foot",
        found("wound"),
        weighs="A vet sees it today, and asks about tetanus cover.",
        reason="Near the coronet or a joint a small wound can be a grave one.",
        against=NOTHING,
        caution=WAITS,
    ),
    Consideration(
        "pain_under_the_horn",
        "vet",
        "Signs of an abscess: ask a vet",
        "an abscess is noted",
        found("abscess"),
        weighs="The vet decides about drainage and pain; the farrier helps as asked.",
        reason="Who opens live tissue, and who may, is a matter of training and law.",
        against="In some places a farrier may open a track within the horn: know the "
        "law where you work.",
        caution=WAITS,
    ),
    Consideration(
        "moving_crack",
        "vet",
        "A crack that moves, bleeds or is foul: ask a vet",
        "a crack of the class 'edges move, bleed or are foul'",
        found("crack", grades=("unstable",)),
        weighs="A vet looks before the crack is opened, filled or laced.",
        reason="What is shut in under a repair goes on working there.",
        against=NOTHING,
        caution=WAITS,
    ),
    Consideration(
        "wall_widely_undermined",
        "vet",
        "Much wall undermined: vet and farrier together",
        "white line disease, marked",
        found("white_line_disease", grades=("marked",)),
        weighs="A vet's pictures before wall is taken away; a plan between the two.",
        reason="How much wall the foot can lose depends on what stands behind it.",
        against="Nothing, but a small cavity is the farrier's daily work.",
    ),
    Consideration(
        "thrush_deep",
        "vet",
        "Thrush that goes deep: ask a vet",
        "thrush, marked",
        found("thrush", grades=("marked",)),
        weighs="A vet looks where it hurts, bleeds or reaches beyond the frog.",
        reason="Deep in the grooves live tissue is near.",
        against=NOTHING,
    ),
    Consideration(
        "bruise_marked",
        "vet",
        "A marked bruise: ask a vet if the horse is sore",
        "a bruise, marked",
        found("bruise", grades=("marked",)),
        weighs="A vet looks if the horse is sore or it does not settle by the next visit.",
        reason="The same stain can have several causes under it.",
        against="An old stain that grows out in a sound horse needs none.",
    ),
)

DEFER: tuple[Consideration, ...] = (
    Consideration(
        "foal_limb",
        "defer",
        "A foal's limbs: a vet leads, and time counts",
        "a foal with an angular deviation, a rotation or an offset joint",
        both(
            stages("foal"),
            either(built("angular"), built("axial_rotation"), built("offset")),
        ),
        weighs="Show the foal to a vet soon. What the feet are to get, extensions and "
        "trim, follows the vet's plan, looked at again every few weeks.",
        reason="The limb can be changed only while it grows, and each joint stops "
        "growing at its own time.",
        against="Many foals straighten by themselves: the vet tells which.",
        source="time of growth: from memory; a foal's first look at 3–4 weeks: trade "
        "pages",
        caution="No extension and no one-sided trim on a foal without the vet's plan.",
    ),
    Consideration(
        "growing_limb",
        "defer",
        "A growing horse's limbs: ask a vet before changing loads",
        "a horse under four with an angular deviation, a rotation or an offset joint",
        both(
            stages("growing"),
            either(built("angular"), built("axial_rotation"), built("offset")),
        ),
        weighs="Keep the feet level and short in their interval; ask a vet before "
        "anything that is meant to change the limb.",
        reason="Joints still form under the load that they are given.",
        against="Waiting too long spends the time in which something could be done.",
    ),
    Consideration(
        "foal_club_foot",
        "defer",
        "A club foot in a young horse: a vet leads",
        "a club foot of any grade before maturity",
        both(stages("foal", "growing"), found("club_foot")),
        weighs="A vet looks soon; trimming follows the vet's plan.",
        reason="A new club foot in a foal is on the list of what a vet should see.",
        against=NOTHING,
        caution="Lowering the heels of such a foot at one go can hurt.",
    ),
    Consideration(
        "marked_deviation",
        "defer",
        "Before remedial work on a marked deviation: a vet's word",
        "a marked angular deviation, rotation or offset",
        either(
            built("angular", grades=("marked",)),
            built("axial_rotation", grades=("marked",)),
            built("offset", grades=("marked",)),
        ),
        weighs="Ordinary work goes on; wedges, one-sided extensions or bars that are "
        "meant to shift load wait for a vet's word and pictures.",
        reason="What is taken off one side of a joint is put on the other.",
        against="A horse that has gone sound for years on the same work needs no new "
        "plan.",
        is_lasting=True,
    ),
    Consideration(
        "old_injury_known",
        "defer",
        "An old injury: know what the vet said of it",
        "an old injury on any limb",
        built("old_injury"),
        weighs="Have the vet's last word on it before traction, weight or heel height "
        "are changed on that limb.",
        reason="What healed is often stiffer or weaker than it was, and takes a sudden "
        "change badly.",
        against="If it is long quiet and the work stays the same, nothing changes.",
        is_lasting=True,
    ),
    Consideration(
        "steep_club_foot",
        "defer",
        "A steep club foot: vet and farrier together",
        "a club foot of grade 3 or 4",
        found("club_foot", grades=("3", "4")),
        weighs="A vet's side picture before heels or toe are changed.",
        reason="How far the bone stands from the wall can't be seen from outside.",
        against="If it has been so for years and the horse is sound, small steps as "
        "before.",
        source="grades after Redden: 3 and 4 from memory",
        caution="Taking the heels down at one go can hurt.",
    ),
    Consideration(
        "rings_ask_why",
        "defer",
        "Uneven growth rings: ask what happened",
        "uneven growth rings",
        found("growth_rings"),
        weighs="Ask about feed, illness and laminitis before; advise a vet if nobody "
        "knows why.",
        reason="Rings that diverge were seen more in feet lame for over three months.",
        against="Even rings come with a change of feed or season.",
        source="Dyson SJ et al. (2011) Vet J 190(3):364-371",
    ),
    Consideration(
        "dished_toe_picture",
        "defer",
        "A dished toe: consider a vet's picture",
        "a dished toe wall on a fore foot",
        on_fore(found("dished_toe")),
        weighs="A side picture by a vet before the toe is dressed far back.",
        reason="Seen from outside a dish can be long horn or a moved bone.",
        against="A dish that is known and unchanged on pictures.",
    ),
    Consideration(
        "youngstock_trim_alone",
        "defer",
        "Young stock: level trims at short intervals, shoes late",
        "used as young stock, or a foal",
        either(used_for("youngstock"), stages("foal")),
        weighs="Trim a little and often; put off shoes as long as the work allows.",
        reason="A foal's hoof renews itself in about five months, and the foot is still "
        "widening.",
        against="Early work on hard ground may need shoes: with a vet's advice.",
        source="renewal in 145 ± 15 days: Curtis S et al. (2014) Vet J 201(1):116-117",
    ),
)
