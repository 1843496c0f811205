"""Words for what happens to water, cup, tube and soil."""

from collections.abc import Mapping

from parchd.diagnosis.kinds import FindingKind as K
from parchd.diagnosis.sayings import FindingWords, by_itself, only_service
from parchd.words import text

TUBE_WORDS: Mapping[K, FindingWords] = {
    K.LOST_WATER: FindingWords(
        "lost water column",
        "refill {name}",
        "The tube holds no continuous column of water any more, so the transducer feels nothing of the soil. It reads "
        "wet however dry the ground is.",
        (
            "Do not take this spot for wet. {by_others}",
            "Look at the water in the tube, at cap and stopper, and for a wet patch or a crack.",
            "{filling}",
            "If it runs empty again within days, air comes in: prove it on the bench (parchd prove {name}).",
            "Write the work down: parchd service -t {name} --work refill.",
        ),
        only_service("refill"),
    ),
    K.AIR_ENTRY: FindingWords(
        "air entry at the dry end",
        "look how dry it is at {name}",
        "The soil pulled harder than a column of water can bear at this site. Air came in and the reading fell; the "
        "low values since then are no wet soil.",
        (
            (
                "Take the ground to be as dry as it was before the fall, whatever is read now; look at it and "
                "irrigate if the plants call for it."
            ),
            "{by_others}",
            "Refill it only after the next irrigation; in dry ground it would break again at once*. {filling}",
            "If this spot is meant to become so dry, a tensiometer cannot follow: irrigate earlier, or measure deeper.",
            "Write the work down: parchd service -t {name} --work re-prime.",
        ),
        only_service("re-prime"),
    ),
    K.AIR_LEAK: FindingWords(
        "slow air leak",
        "find the leak of {name}",
        "Air seeps in. Vacuum is lost by day and by night, whatever the weather, and the most that it reaches becomes "
        "less from one drying to the next: it reads too wet.",
        (
            "Look at cap, stopper, threads and the fitting of the transducer: dirt, a crack, a dry seal, loose screws.",
            (
                "Test it: pump to {kpa:60} to {kpa:80} of vacuum and close it; more than {kpa:2} lost in 5 minutes is "
                "a leak*. parchd prove {name} --test hold takes the time."
            ),
            (
                "Clean the seal, wrap the thread anew or change the part; tighten by hand only, a wrench cracks "
                "plastic. {gluing}"
            ),
            "{filling}",
            "Write the work down: parchd service -t {name} --work re-prime.",
        ),
        only_service("re-prime"),
    ),
    K.CRACKED_CUP: FindingWords(
        "cracked cup",
        "change the cup of {name}",
        "The cup lets air through and cannot hold more than {kpa:7}. It follows free water only: all that is drier "
        "reads as wet.",
        (
            "Do not take this spot for wet. {by_others}",
            "Take it out, wash it and look at the cup and its glue in good light; wet it, a crack dries last*.",
            (
                "Test it: fill it, wrap the cup in a dry towel; one that stays below {kpa:20} has failed* "
                "(parchd prove {name} --test towel)."
            ),
            "Change the cup, or set a new tensiometer. {gluing}",
            "Write the work down: parchd service -t {name} --work install.",
        ),
        only_service("install"),
    ),
    K.SLOW_RESPONSE: FindingWords(
        "slow response",
        "vent or clean {name}",
        "It follows the soil late and less than it should: a bubble has grown in the tube, or fines, lime or slime "
        "have closed pores of the cup. Highs are cut off and lows come late.",
        (
            "Look for a bubble below the cap, for green water and for lime on the cup.",
            "If there is one, it must come out. {filling}",
            (
                "No bubble: test it (parchd prove {name} --test return). It must come back to zero in water within "
                "minutes*."
            ),
            (
                "A clogged cup: brush it under water and rinse it*. Acids and bleach attack eyes and skin and must "
                "never come together: gloves, eye protection, fresh air, and the label first. Abrasion makes dust: "
                "keep it wet."
            ),
            "Write the work down: parchd service -t {name} --work re-prime.",
        ),
        by_itself(text("when it has followed a wetting as fast as its neighbours do"), "re-prime"),
    ),
    K.POOR_CONTACT: FindingWords(
        "poor contact with the soil",
        "set {name} anew",
        "The cup does not touch the soil all around: a gap, stones, coarse sand, or clay that has shrunk. It stays "
        "behind while its neighbours move, and jumps when water runs down along the tube.",
        (
            "Look for a gap around the tube at the surface, and whether the tube can be moved by hand.",
            "Pour a cup of water beside it: a jump within minutes means that water runs down along the tube*.",
            (
                "Set it anew: a hole as wide as the tube, a little slurry of sieved soil around the cup, soil firmed "
                "around "
                "the tube*. Know where pipes and cables lie before you make holes."
            ),
            "Write the work down: parchd service -t {name} --work install.",
        ),
        by_itself(text("when it has moved with its neighbours again"), "install"),
    ),
    K.LEVEL_SHIFT: FindingWords(
        "level shift",
        "find out what moved {name}",
        "All readings have moved by the same step and go on from there as before. Soil does not do that; a hand, a "
        "connector, a supply or another setting does.",
        (
            "Ask who was there at that time, and what was changed: tube, plug, board, supply, settings.",
            "Look at the plug and its contacts for water and corrosion, and at the water level in the tube.",
            "Check the zero: parchd calibrate {name} --zero, cup in water or port open to the air.",
            (
                "If somebody worked on it, write that down with its time: parchd service -t {name} --work other --at "
                "TIME."
            ),
        ),
        by_itself(text("when the level has come back")),
    ),
    K.ZERO_DRIFT: FindingWords(
        "zero drift",
        "set the zero of {name} anew",
        "In saturated soil it should read about zero, and does not. All of its readings are off by about as much.",
        (
            "Look at the water level in the tube and compare its height with height_cm in the configuration.",
            "Set the zero anew, cup in water or port open to the air: parchd calibrate {name} --zero.",
            "If it drifts again within weeks, change the transducer*.",
            "Write the work down: parchd service -t {name} --work re-zero.",
        ),
        by_itself(text("when it reads about zero in saturated soil again"), "re-zero"),
    ),
    K.FROZEN: FindingWords(
        "ice in tube or cup",
        "let {name} thaw, then test it",
        "There is ice in the tube or in the soil at the cup. Below freezing a tensiometer measures nothing "
        "(ISO 11276), and ice bursts cup, tube and transducer.",
        (
            "Leave it alone until it has thawed by itself; hot water or a flame breaks cup and tube*.",
            "Then look for cracks of cup, tube and transducer, and for lost water.",
            "Test it before you believe it: parchd prove {name}.",
            "{filling}",
            "Write the work down: parchd service -t {name} --work frost-removal.",
        ),
        by_itself(text("when it has been above freezing for a while and moves with the soil again")),
    ),
    K.FROST_RISK: FindingWords(
        "risk of frost",
        "protect {name} from frost",
        "It is cold enough for ice in the tube. Ice bursts cup, tube and transducer.",
        (
            (
                "Drain it or take it out before the night, or cover it well; a shallow one and the part above the "
                "ground freeze first*."
            ),
            "Before you drain irrigation lines too: shut the supply and let the pressure off; local codes come first.",
            "Write down what you did: parchd service -t {name} --work frost-removal.",
        ),
        "Its readings are still believed. The warning ends by itself when it has become warmer.",
    ),
    K.SWAPPED: FindingWords(
        "swapped tensiometers",
        "exchange the cables of {name}",
        "What is called the shallow one behaves like the deep one, and the other way around: their cables or channels "
        "are exchanged. Both readings are right, but in each other's place and with each other's head.",
        (
            "Follow both cables from tube to board and compare with the channels in the configuration.",
            "Test it: pull one plug and see which of the two falls silent (parchd status).",
            "Exchange the plugs, or the two channels in the configuration; then parchd check and reload.",
            (
                "Write it down: parchd service -t {name} --work other. After a change in the configuration parchd "
                "reprocess computes the past anew."
            ),
        ),
        by_itself(text("when the shallow one behaves like a shallow one again")),
    ),
    K.BLOCKED_VENT: FindingWords(
        "blocked vent",
        "clear the vent of {name}",
        "The transducer measures against air that is shut in: the vent is closed by water, dirt or an insect. Its "
        "readings move with the barometer, by as much as the weather changes from day to day.",
        (
            "Look at the vent of the transducer, and along its cable for a kink or water in the vent tube.",
            (
                "Dry and clean it; a small drying cartridge keeps damp out*. Never blow into it with compressed air: "
                "that breaks the transducer and throws dirt into eyes."
            ),
            "If it has no vent it is a sealed or absolute one: say so in the configuration and give a barometer.",
            "Write the work down: parchd service -t {name} --work other.",
        ),
        "Its readings keep their flags: they are off by what the air has changed. It ends by itself when they no "
        "longer move with the barometer.",
    ),
}
