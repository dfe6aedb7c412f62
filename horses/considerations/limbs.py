"""What is weighed for how a limb is built: lasting, so supported in a mature horse."""

from horses.considerations.case import (
    both,
    built,
    deviations,
    either,
    on_fore,
    on_hind,
    pair_differs,
    shod_at_all,
    shod_there,
    stages,
)
from horses.considerations.rule import Consideration

_GROWN = stages("mature", "unknown")
_ADAMS = "USDA, Special Report on Diseases of the Horse, Adams on shoeing"
_LUNGWITZ = "Lungwitz & Adams, A Text-Book of Horseshoeing"
_LEVEL = (
    "Trim to how the foot lands and grows, not to a picture of a straight limb; look at "
    "which wall flares and which grows."
)

LIMBS: tuple[Consideration, ...] = (
    Consideration(
        "several_deviations",
        "limb",
        "Several deviations: a section eased all round",
        "three or more deviations in a mature horse that is shod",
        both(_GROWN, deviations(3), shod_at_all),
        weighs="A section with its ground edge eased all round, half-round or rolled, so "
        "that each limb breaks over where it wants to.",
        reason="Where several joints turn different ways no single breakover suits all.",
        against="Less grip than a square edge; it wears sooner at the toe.",
        is_lasting=True,
    ),
    Consideration(
        "base_narrow_lateral_support",
        "limb",
        "Base narrow: support on the lateral side, behind the last nail",
        "base narrow, shod, mature",
        both(_GROWN, built("stance", "base_narrow"), shod_there),
        weighs="The lateral branch a little fuller and longer behind the last nail; the "
        "medial one close.",
        reason="The foot stands inside the line of the limb, so its lateral side carries "
        "more.",
        source=f"outer branch 1/4 in longer: {_LUNGWITZ}",
        against="A branch that stands out is trodden off, most of all in mud or close "
        "company.",
        is_lasting=True,
    ),
    Consideration(
        "base_wide_medial_support",
        "limb",
        "Base wide: medial side supported, kept close",
        "base wide, shod, mature",
        both(_GROWN, built("stance", "base_wide"), shod_there),
        weighs="The medial branch full to the wall and sound in its length, with nothing "
        "standing out.",
        reason="The foot stands outside the line of the limb, so its medial side carries "
        "more.",
        against="A medial branch that stands out is caught by the other foot.",
        is_lasting=True,
    ),
    Consideration(
        "narrow_going_close_medial",
        "limb",
        "Narrow behind or toes out: guard against brushing",
        "base narrow behind, or toes out in front; shod",
        both(
            either(
                built("stance", "base_narrow", end="H"),
                built("axial_rotation", "toes_out", end="F"),
            ),
            shod_there,
        ),
        weighs="Medial branch close, its edge eased, clenches smooth, no stud or nail "
        "head standing proud on that side; brushing boots for work.",
        reason="Such limbs swing across and strike their pair.",
        against="A branch fitted too close gives the heel no room to spread.",
        is_lasting=True,
    ),
    Consideration(
        "toes_out_breakover",
        "limb",
        "Toes out: breakover where the limb takes it",
        "toes out, mature",
        both(_GROWN, built("axial_rotation", "toes_out")),
        weighs="Ease the toe at the medial toe quarter or over a width, where the worn "
        "shoe shows that it rolls; leave the foot to point where its limb points.",
        reason="Forcing the breakover to the middle twists the joints above.",
        against="Easing one place alone makes it wear there still more: look again next "
        "time.",
        is_lasting=True,
    ),
    Consideration(
        "toes_in_breakover",
        "limb",
        "Toes in: breakover where the limb takes it",
        "toes in, mature",
        both(_GROWN, built("axial_rotation", "toes_in")),
        weighs="Ease the toe at the lateral toe quarter or over a width, where the worn "
        "shoe shows that it rolls; lateral heel well supported.",
        reason="Such a limb breaks over laterally and often paddles.",
        against="Easing one place alone makes it wear there still more: look again next "
        "time.",
        is_lasting=True,
    ),
    Consideration(
        "carpus_valgus_support",
        "limb",
        "Valgus at the carpus: keep the foot under its limb",
        "valgus at the carpus, mature",
        both(_GROWN, built("angular", "valgus", place="carpus")),
        weighs=f"{_LEVEL} Keep a lateral flare from growing, so that the base does not "
        "wander further out.",
        reason="The limb below the knee stands outward, and the wall follows the load.",
        against="Dressing wall that carries weakens the foot on the side it needs.",
        is_lasting=True,
    ),
    Consideration(
        "carpus_varus_support",
        "limb",
        "Varus at the carpus: lateral side in order",
        "varus at the carpus, mature",
        both(_GROWN, built("angular", "varus", place="carpus")),
        weighs=f"{_LEVEL} Keep the lateral branch supported to its end.",
        reason="The limb below the knee stands inward and carries more laterally.",
        against="Lifting the lateral side with a wedge loads the joint's other half.",
        is_lasting=True,
    ),
    Consideration(
        "tarsus_valgus_support",
        "limb",
        "Valgus at the tarsus: room to turn, medial side smooth",
        "valgus at the tarsus, mature",
        both(_GROWN, built("angular", "valgus", place="tarsus")),
        weighs=f"{_LEVEL} Traction modest, so that the foot can turn as the hock does.",
        reason="Hocks that stand close turn the foot as it leaves the ground; a foot "
        "held fast twists the hock.",
        against="On slippery roads less traction is a risk of its own.",
        is_lasting=True,
    ),
    Consideration(
        "tarsus_varus_support",
        "limb",
        "Varus at the tarsus: lateral support, modest traction",
        "varus at the tarsus, mature",
        both(_GROWN, built("angular", "varus", place="tarsus")),
        weighs="Lateral branch supported behind the last nail; nothing that holds the "
        "foot still while the hock turns out.",
        reason="Hocks that stand apart twist the foot outward under load.",
        against="A long lateral branch can be trodden by the other hind.",
        is_lasting=True,
    ),
    Consideration(
        "fetlock_valgus_support",
        "limb",
        "Valgus at the fetlock: watch the medial heel",
        "valgus at the fetlock, mature",
        both(_GROWN, built("angular", "valgus", place="fetlock")),
        weighs=f"{_LEVEL} Medial heel supported and not left to run under or shear.",
        reason="Below the fetlock the foot stands outward and its medial side takes more.",
        against="Raising one heel to 'straighten' it moves the trouble into the joint.",
        is_lasting=True,
    ),
    Consideration(
        "fetlock_varus_support",
        "limb",
        "Varus at the fetlock: watch the lateral heel",
        "varus at the fetlock, mature",
        both(_GROWN, built("angular", "varus", place="fetlock")),
        weighs=f"{_LEVEL} Lateral branch fuller and longer behind the last nail.",
        reason="Below the fetlock the foot stands inward and its lateral side takes more.",
        against="A lateral branch that stands out can be trodden off.",
        is_lasting=True,
    ),
    Consideration(
        "offset_knee",
        "limb",
        "Offset carpus: light, level and often",
        "an offset carpus, mature",
        both(_GROWN, built("offset", place="carpus")),
        weighs="Keep the foot light and level, intervals short, breakover easy; watch "
        "the medial splint area and tell a vet of heat there.",
        reason="The cannon takes its load off the line of the forearm, more on one side.",
        against="Nothing on the foot puts the knee under the forearm.",
        is_lasting=True,
    ),
    Consideration(
        "offset_low_joint",
        "limb",
        "Offset fetlock or tarsus: keep the base under the cannon",
        "an offset fetlock or tarsus, mature",
        both(
            _GROWN,
            either(built("offset", place="fetlock"), built("offset", place="tarsus")),
        ),
        weighs="Fit the shoe to where the limb's load comes down, fuller on that side "
        "behind the last nail.",
        reason="The foot grows away from under the load where it isn't held there.",
        against="More steel on one side is more to be trodden off.",
        is_lasting=True,
    ),
    Consideration(
        "camped_under_fore",
        "limb",
        "Camped under in front: ease the toe",
        "camped under in front",
        on_fore(built("stance", "camped_under")),
        weighs="Breakover set back or rolled; heels not left long.",
        reason="A fore limb under the body leaves the ground late, and the hind foot "
        "comes for its heel.",
        against="If it is a new posture it may be pain: then a vet first.",
        caution="A horse that newly stands so may be hurting: ask a vet.",
        is_lasting=True,
    ),
    Consideration(
        "camped_out_fore",
        "limb",
        "Standing out in front: is it built so, or does it hurt?",
        "camped out in front",
        on_fore(built("stance", "camped_out")),
        weighs="Make sure that it always stood so before anything is planned for it.",
        reason="Fore feet set out and weight leant back is also what a sore horse shows.",
        against="A horse known for years to stand so.",
        source="the posture as a sign to call a vet: Equus, April 2017",
        caution="Newly seen, with a warm foot or strong pulse: call a vet now.",
        is_lasting=True,
    ),
    Consideration(
        "camped_out_hind",
        "limb",
        "Camped out behind: keep the toe short",
        "camped out behind",
        on_hind(built("stance", "camped_out")),
        weighs="Toe kept short and rolled; heels level with each other.",
        reason="The limb pushes off late, over a longer toe.",
        against="A toe taken too far back wears to the quick in hard work.",
        is_lasting=True,
    ),
    Consideration(
        "under_behind",
        "limb",
        "Sickle or camped under behind: length at the heel",
        "sickle, or camped under behind",
        on_hind(
            either(built("stance", "sickle"), built("stance", "camped_under")),
        ),
        weighs="Branches long enough to carry behind the heel; toe eased.",
        reason="The foot stands ahead of the hip's line, so load comes down at the heel.",
        against="Long hind branches are trodden on in close company and by a mare's "
        "foal.",
        is_lasting=True,
    ),
    Consideration(
        "upright_pastern_fit",
        "limb",
        "Upright pastern: short branches, easy breakover",
        "an upright pastern, shod",
        both(built("side", "upright_pastern"), shod_there),
        weighs="Branches to the buttress and at most 1/8 in (3 mm) past it; last nail "
        "just behind the middle of the shoe; a little roll at the toe.",
        reason="A steep foot carries nearer its toe and needs less behind.",
        source=f"{_ADAMS} (length); {_LUNGWITZ} (last nail)",
        against="Concussion is greater in such a limb: heavy steel and hard roads tell.",
        is_lasting=True,
    ),
    Consideration(
        "sloping_pastern_fit",
        "limb",
        "Long sloping pastern: more length behind",
        "a long sloping pastern, shod",
        both(built("side", "sloping_pastern"), shod_there),
        weighs="Branches about twice the shoe's thickness past the buttress, never past "
        "the bulbs in front; toe kept short.",
        reason="The load comes down behind, and an acute foot needs length there.",
        source=f"{_ADAMS} (about 2 × thickness for the acute foot)",
        against="In front, length behind the heel is a shoe pulled off in mud.",
        is_lasting=True,
    ),
    Consideration(
        "back_at_knee_ease",
        "limb",
        "Back at the knee: ease the breakover",
        "back at the knee",
        built("side", "back_at_knee"),
        weighs="Toe short and rolled, heels not lowered below their own need.",
        reason="The back of such a knee is pulled upon longest as the foot leaves the "
        "ground.",
        against="Fast work asks more of it than any shoe can spare: the vet's word on "
        "how much.",
        is_lasting=True,
    ),
    Consideration(
        "over_at_knee_steady",
        "limb",
        "Over at the knee: surefooted before all",
        "over at the knee",
        built("side", "over_at_knee"),
        weighs="Rolled toe and steady grip, heels kept as they are.",
        reason="Such a horse stumbles more readily.",
        against="If the knee trembles or gives way, riding it is a question for the vet.",
        caution="A horse that stumbles can fall with its rider: say so to the owner.",
        is_lasting=True,
    ),
    Consideration(
        "pair_built_differently",
        "limb",
        "The pair is built differently: fit each to its own limb",
        "left and right of a pair differ in angle, rotation or offset",
        pair_differs("angular", "axial_rotation", "offset"),
        weighs="Plan each foot by itself; equal mass on the pair, not equal outline.",
        reason="A shoe mirrored from the other foot fits the other limb.",
        against="A great difference in weight between the pair unsettles the gait.",
        is_lasting=True,
    ),
)
