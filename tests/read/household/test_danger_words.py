"""Words of danger in a line of one's own: what must be known for a sign, and what only sounds like one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import reconcile
from reconcile.errors import InputError
from reconcile.house import DANGERS, House
from reconcile.read import read_house
from reconcile.read.household.danger_words import State, signs_in
from reconcile.report.screens import screen
from reconcile.texts.danger_signs import DANGER
from reconcile.texts.labels import SIGNS

TRUE = {
    "shock": (
        "I got a shock from the washer",
        "got shocked touching the faucet",
        "My wife got a small shock from the shower tap",
        "felt a tingle in the shower",
        "the dryer gives me a tingle",
        "kid was zapped by the fence",
        "tingling when touching the metal sink",
        "fridge shocks us when we touch it",
        "I felt an electric shock at the stove",
        "bill up, and I got a shock from the dryer",
        "got zapped by the outdoor outlet",
        "mild shock off the kitchen tap",
        "If I touch the washer I get a shock",
        "Washer shocked me when I touched it",
        "dog got a shock near the meter",
        "water pipe tingles when touched",
        "gets a jolt from the panel door",
    ),
    "burning_smell": (
        "burning smell at the meter",
        "meter box smells burnt",
        "smells like burning near the panel",
        "smell of burning plastic in the kitchen",
        "fishy smell by the breaker panel",
        "burnt plastic smell",
        "it smells like something is burning",
        "there is an electrical burning smell",
        "smelled something burning behind the fridge outlet",
        "acrid smell in the basement",
        "smells of hot plastic near outlet",
        "burning rubber smell when heater is on",
        "hot smell from the breaker box",
        "panel has a burnt smell",
        "breaker panel smells like fish",
    ),
    "buzzing": (
        "meter box buzzes",
        "meter box feels warm and buzzes",
        "buzzing noise from the panel",
        "breaker box crackles at night",
        "the outlet in the bedroom buzzes",
        "hear buzzing at the electric meter",
        "panel is buzzing loudly",
        "a sizzling sound in the wall",
        "light switch crackles",
        "arcing at the meter socket",
        "loud buzz from fuse box",
        "the main breaker hisses",
        "no power in garage, panel buzzes",
        "not normal: meter buzzing",
    ),
    "warm_meter": (
        "meter is warm",
        "the meter box feels warm and buzzes",
        "panel hot to touch",
        "meter box hums loudly and feels hot to the touch",
        "breaker gets very hot",
        "the breaker panel is too hot to touch",
        "warm breaker",
        "electric meter gets hot when the dryer runs",
        "main breaker feels warm",
        "Fuse box is overheating",
    ),
    "sparks_or_scorching": (
        "outlet sparks when I plug in the heater",
        "saw sparks at the outlet",
        "plug melted",
        "scorch marks around dryer outlet",
        "smoke from the dryer outlet last night",
        "melted plug on the dryer",
        "scorch marks on the kitchen outlet",
        "burn marks around the socket",
        "outlet hot to touch",
        "dryer cord is hot",
        "the extension cord gets hot",
        "smoke came out of the panel",
        "wires burnt in the junction box",
        "sparks from breaker box",
        "charger melted",
        "blackened outlet behind TV",
        "socket is charred",
        "the outlet is warm",
        "burned outlet",
        "sparks flew when I switched the dryer",
    ),
    "lights_brighten_and_dim": (
        "lights flicker and get brighter when the fridge starts",
        "half the house lost power, other half too bright",
        "some lights get brighter while others dim",
        "lights brighten when the AC starts",
        "half the lights go bright and others dim",
        "kitchen lights turn very bright",
        "lights dim and then brighten",
        "living room lights got brighter when the dryer came on",
    ),
    "water_at_meter": (
        "meter socket full of water",
        "water in the meter box",
        "rust and water inside the panel",
        "meter box is wet",
        "panel is rusted",
        "rain got into the breaker panel",
        "water dripping into the fuse box",
        "corrosion in the meter socket",
        "breaker box rusty",
    ),
    "damaged_conduit": (
        "service cable is torn",
        "conduit pulled away from the wall",
        "weatherhead is hanging",
        "broken conduit at the meter",
        "bare wires in the basement",
        "frayed cord",
        "meter box hanging off the wall",
        "tree fell, service drop is sagging",
        "exposed wiring in attic",
    ),
}
OVER = (
    "Outlet sparked. Electrician replaced it.",
    "burning smell at the meter, repaired by the utility",
    "fixed the buzzing breaker",
    "replaced burnt outlet",
    "meter box buzzed, utility fixed it May 3",
    "plug melted - replaced",
    "got a shock from the washer; fixed",
    "repaired the melted plug",
    "breaker was hot, replaced",
    "burning smell at panel, dealt with",
)
NOT_OVER = (
    "replaced the meter and it buzzes",
    "electrician replaced the panel, now it buzzes",
    "meter buzzes, replaced but still buzzing",
    "burning smell, needs to be fixed",
    "outlet sparks, not fixed yet",
    "meter buzzes; asked to have it repaired",
    "burning smell at meter. Fixed the roof.",
    "breaker hot, will be replaced",
)
FALSE = (
    "no burning smell",
    "no smell at the meter",
    "no sparks",
    "meter is not warm",
    "warm house",
    "warm weather",
    "very warm month",
    "hot water heater",
    "hot water",
    "new hot tub",
    "hot summer, meter read late",
    "hot day, breaker tripped",
    "bill shock",
    "I was shocked by the bill",
    "got a shock when I saw the bill",
    "the bill gave us a shock",
    "sticker shock from this amount",
    "shocked at how high the usage is",
    "pool shock added",
    "shocked the pool",
    "static shock in winter",
    "burned wood instead of oil",
    "wood stove burning",
    "smells of burnt toast",
    "candle smell burning",
    "new smoke detector batteries",
    "spark plug replaced on generator",
    "trip to Sparks, Nevada",
    "switched to warm white bulbs",
    "replaced burned out bulb",
    "dryer heating element burnt out",
    "new LED lights brighter",
    "installed brighter lights",
    "solar panels installed",
    "solar panels get hot",
    "radiant panel warm",
    "water meter leaking",
    "gas meter replaced",
    "water heater leaking",
    "neighbors buzzing about it",
    "fridge buzzes",
    "buzz cut",
    "crackling fire",
    "vacation",
    "away on vacation",
    "family of 5 visiting, space heaters in guest rooms",
    "Tom left for college",
    "bought an electric car",
    "utility worked on meters in basement of both apartments",
    "new tenants upstairs",
    "smart meter installed",
    "old dial meter swapped for smart meter",
    "breaker tripped",
    "meter read",
    "heat pump repaired",
    "warm up the car",
    "heated blanket",
    "hot plate used a lot",
    "power outage 2 hours",
    "power line down, outage 2 days",
    "arc fault breaker installed",
    "new panel 200 A",
    "panel upgrade",
    "plugged in block heater",
    "plug-in heater",
    "plug-in hybrid",
    "baby born",
    "thermostat set to 21",
    "dimmer installed",
    "turned off lights",
    "lights on all night",
    "call if the meter buzzes",
    "If you smell burning, call 555-0100",
    "report any sparks at the meter",
    "risk of shock",
    "asked whether the meter buzzes",
    "shock absorber",
    "outlet mall trip",
    "charger installed",
    "phone charger warm",
    "rain",
    "rainy month",
    "water leak in bathroom fixed",
    "leak in the pool",
    "conduit installed",
    "meter does not buzz",
    "the panel isn't hot",
    "never got a shock",
    "nobody felt a shock",
    "no fishy smell",
    "without any burning smell",
    "the bill smells fishy",
    "meter reading looks fishy",
    "something fishy about this bill",
    "bright days",
    "days get brighter",
    "melted snow",
    "cable TV cancelled",
    "wireless plug replaced",
    "switch to new plan",
    "switched off water heater",
    "electric range",
    "fuse replaced",
    "hot yoga",
    "hot flashes",
    "glow sticks",
    "flash sale heater",
    "surge protector bought",
    "whole house surge protector",
    "smoked turkey, oven all day",
    "burn-in test of PC",
    "pumping water, wet basement",
    "wet basement, sump pump ran",
    "flooded basement",
    "dehumidifier hums",
    "fire pit",
    "fireplace",
    "firewood burned",
    "loose window",
    "broken window",
    "broken AC",
    "live in guest",
    "live Christmas tree lights",
    "Christmas lights",
    "outside lights on timer",
    "grow lights bright",
    "hot wings party",
    "kettle boiling",
    "heat wave, very hot",
    "AC ran on hot days",
    "warm floor installed in bath",
    "towel warmer",
    "meter box moved",
    "meter in hot garage",
    "estimated because meter frozen",
)
AS_TYPED = (
    "Breaker for dryer trips and is hot to the touch",
    "buzzing sound near the box outside since the storm",
    "meter base has rust and water drips out of it",
    "meter cover cracked by hail",
    "meter glass is broken",
    "water heater leaks onto the floor by the panel",
    "dog yelps on wet spot in the yard",
    "humming breaker",
    "the meter hums loudly at night",
    "the wall behind the panel is warm",
    "breaker #14 hot",
    "Breaker 7 (range) is hot",
    "main panel makes a humming noise when AC is on",
    "there's a loud hum coming from the breaker box",
    "elec box on side of house buzzes when it rains",
    "box outside the house crackles in the rain",
    "grey box on the wall hums and is warm",
    "meter rusty at the bottom",
    "rust stains under the meter box",
    "the glass on the meter is cracked, reported to utility in March",
    "lawnmower threw a stone and broke the meter glass",
    "meter cover missing",
    "meter face is shattered",
    "the front of the meter is fogged up and has water in it",
    "condensation inside meter glass",
    "water running down the wall behind the fuse box",
    "roof leak right over the breaker panel",
    "basement flooded up to the panel",
    "puddle under the panel",
    "there is water on the floor below the electrical panel",
    "washing machine overflowed near the breaker box",
    "the cat jumps when she walks on the wet concrete by the pole",
    "cows won't go near the water trough, they get shocked",
    "horse got shocked at the waterer",
    "dog got a shock on the wet grass by the light pole",
    "dog refuses to walk over the driveway when wet, yelps",
    "my bare feet tingle on the patio when it's wet",
    "tingly feeling on the pool ladder",
    "kids say the pool rail tickles",
    "I can feel a little current in the shower",
    "got a belt off the kettle",
    "got bit by the water heater when I touched the pipe",
    "electric shock from the garden hose tap",
    "feel electricity when I touch the gutter",
    "meter spins and sparks when it rains",
    "saw a blue flash at the meter last night",
    "flash and bang at the pole, lights went dim",
    "loud popping noise from the meter box",
    "breakers snap and crackle",
    "the receptacle in the den is discolored brown",
    "brown marks around the outlet by the sofa",
    "outlet cover is warm",
    "plug for the heater gets really hot",
    "the dryer plug is melted on one side",
    "space heater plug melted into the outlet",
    "cord on window AC gets hot",
    "smells like burning when dryer runs",
    "electrical smell near the breakers",
    "smell like burnt hair by the light switch",
    "strange smell of rotten fish from the outlet",
    "lights get real bright for a second then go dim",
    "lights surge bright when the fridge kicks on",
    "bulbs keep blowing and lights get super bright",
    "half my lights are dim and the other half extra bright",
    "the TV side of house is dim, kitchen lights too bright",
    "meter is loose on the wall",
    "meter box is pulling away from the house",
    "wire from pole to house is hanging low",
    "tree limb on our service line",
    "power line to the house is frayed",
    "squirrel chewed the service wire",
    "conduit at the meter is split open",
    "wire hanging loose from the mast",
    "exposed wires behind the meter",
    "bare wire in the yard after digging",
    "cut the buried cable while digging, now breaker trips",
    "mice chewed the wires in the attic",
    "smoke smell from panel",
    "smoke came out of the outlet in the bedroom",
    "panel was smoking last week",
    "outlet went black",
    "fire in the meter box last year, still not replaced",
    "meter got struck by lightning and is black on one side",
    "meter is scorched",
    "arc marks on the breaker",
    "neutral is loose the electrician says",
    "loose neutral, waiting on utility",
    "breaker feels hot",
    "breakers are warm when ac runs",
    "fuse gets hot enough to burn you",
    "fusebox hot!!",
    "the meter is hot, too hot to hold my hand on",
    "the electric meter buzzes like a bee hive",
    "strange sizzle from meter after rain",
    "meter socket corroded",
    "panel has white corrosion on the bus",
    "green crud and rust in the panel",
    "ants and water in meter can",
    "zap from the light switch every time",
    "stove shocks me if I also touch the sink",
    "get little shocks from the microwave",
    "breaker by the stairs is burning hot",
    "dryer breaker is hot",
    "AC breaker gets so hot you can't touch it",
    "box on the pole makes a buzzing noise",
    "our transformer box in the yard buzzes very loud and smells",
    "utility box outside makes crackling noise",
    "meter housing full of rust",
    "the meter has water behind the glass",
    "glass cover of electric meter broken by kids",
    "meter dome is cracked",
    "water comes in through the top of the breaker box",
    "ceiling drips on the electrical panel",
    "water on the floor around the panel",
    "the sheep got shocked at the wet gate",
    "puppy cries when she steps on the wet deck by the hot tub",
    "got shocked in the hot tub",
    "tingling in the bathtub faucet",
    "stood on the wet ground and got a jolt from the AC unit",
    "switch plate is hot",
    "outlet is brown and smells",
    "plug gets too hot to hold",
    "extension cord melted under the rug",
    "burning plastic odor around the water heater panel cover",
    "something smells burnt by the electric meter",
    "lights went super bright and the TV died",
    "service wires rubbing on a tree and sparking",
    "wire came off the house in the wind",
    "meter pulled out from the siding",
    "panel door warm to the touch",
    "smoke from the wall",
    "outlet popped and sparked",
    "rats chewed cable in crawl space, bare copper",
    "fuse box sizzles",
    "the meter is making a grinding buzz and it's warm",
    "box where wires come in is rusted through",
    "there was a flame at the outlet",
    "dishwasher zaps me when the floor is wet",
    "kitchen plug is charred black",
    "my dryer plug got so hot it turned brown",
    "lights in the kitchen get brighter when I start the vacuum",
    "The electric box in the garage is warm & makes a buzz",
    "a crackle noise in wall by the thermostat",
    "I can hear the panel buzz when hot water runs",
    "we get a tingle off the shower handle",
    "Neighbor's dog got shocked at the light pole",
    "there's rust running out of the bottom of the meter box",
    "breaker box gets wet every time it rains",
    "meter's glass is smashed",
    "smelled burning in the laundry room by the breaker box",
    "the main disconnect is hot",
    "A/C disconnect box outside sizzles",
    "light switch hot",
    "sparks came from the fridge outlet",
    "the wire to the house is sagging onto the garage roof",
    "branch is lying on the service drop",
    "landscaper cut the power cable with a shovel",
    "the pool water shocks us",
    "bathtub faucet gives a tingle",
    "breaker for water heater smells burnt",
    "melted insulation on the wires at the meter",
    "fuse holder is burned",
    "smoking outlet",
    "wall outlet feels really warm when the heater is on",
    "black soot around the meter",
    "lights pulsing bright then dim all evening",
    "half the outlets dead and the rest of the lights very bright",
    "meter box door fell off and wires are exposed",
    "water dripping from the conduit into the panel",
)
"""Signs as people type them, whatever the sign is called."""
HARMLESS = (
    "bill was a shock to everybody",
    "shocking bill again",
    "meter reader came late because of dog",
    "dog sitter stayed the week",
    "wet spring, sump pump ran a lot",
    "leak under the kitchen sink, plumber came",
    "water leak fixed by plumber, dried with fans",
    "broken water pipe, heaters to dry out",
    "glass door replaced",
    "new windows, broken glass swept up",
    "storm, power out 6 hours, meter ok",
    "meter read by camera",
    "rusty old AC replaced",
    "rust remover for the tub",
    "water heater set to 120",
    "water heater leaked, new one installed",
    "hot outside so AC on",
    "box fan in the bedroom",
    "mail box broken",
    "hail damaged the roof",
    "hail storm, new roof",
    "gas furnace humming along",
    "humidifier running",
    "hummingbird feeder lights",
    "heard the fridge running all the time",
    "dryer breaker replaced",
    "turned off breaker for the spare room",
    "flipped the breaker for the water heater off",
    "breaker off while away",
    "tripped breaker reset",
    "panel inspected, nothing hot",
    "electrician checked panel: all fine",
    "checked for warm breakers, none",
    "no humming, no heat at the panel",
    "no rust or water at the meter",
    "meter glass clean, no cracks",
    "meter box dry",
    "the meter is not buzzing and not warm",
    "was told to check for a burning smell, found none",
    "smell from the new oven the first time",
    "paint smell, windows open with heat on",
    "burned candles at dinner",
    "campfire smoke in August, AC on",
    "wildfire smoke, air purifiers on",
    "smoked a brisket overnight, electric smoker",
    "smoker used 10 h",
    "welding in the garage",
    "pottery kiln hot for 12 h",
    "sauna heater hot",
    "hot dry month",
    "warm winter",
    "warmest May on record",
    "hot tub heater broken",
    "pool pump buzzing, replaced",
    "pool light broken",
    "cracked screen on the TV",
    "cracked the windows open at night",
    "shock wave machine",
    "dog had puppies, heat lamp",
    "dog on heated bed",
    "cat lies on the warm router",
    "animals in heated barn",
    "cows in the barn, tank heaters",
    "electric fence charger for horses",
    "electric fence installed",
    "fence energizer runs all day",
    "stock tank heater",
    "horse waterer heated",
    "sparkling lights at Christmas",
    "lights too bright, changed to dim ones",
    "dimmed the lights",
    "kids leave lights on",
    "bright lights for plants",
    "flicker from the TV",
    "lights out for 2 hours",
    "lights left on in basement",
    "meter moved to outside wall",
    "meter base replaced by electrician",
    "new meter socket and mast",
    "service upgraded to 200 amps",
    "panel cover painted",
    "panel box labeled",
    "cut the grass around the meter",
    "meter hidden behind a bush",
    "ice on the meter",
    "snow covered meter, estimated",
    "frost on the meter glass",
    "water bill shared with neighbor",
    "watered lawn with well pump",
    "well pump ran a lot, leak in the hose",
    "toilet leaked, well pump on",
    "running water in the sink to avoid freezing",
    "flooded street, away 3 days",
    "wet clothes in dryer twice",
    "bare floor, cold",
    "exposed brick wall insulated",
    "live alone",
    "live-in nurse with hot plate",
    "current bill is right",
    "current charges seem high",
    "felt the heat was too low",
    "smart switch installed",
    "cord wood",
    "pulled the plug on the old freezer",
    "hanging lights installed",
    "loose change",
    "new wiring in the attic",
    "cable guy came",
    "fuse blown in the car",
    "burner on the stove replaced",
    "burnt the dinner",
    "hot month and guests",
    "bill shocked us",
    "the dog is old, heat lamp on at night",
    "washed the dog, used dryer",
    "leaky faucet, hot water heater ran more",
    "basement wet after rain, dehumidifier on",
    "box of LED bulbs installed",
    "new breaker box installed last fall",
    "hum of the fridge is normal",
    "no hum from the meter",
    "rust on the car",
    "broken thermostat, heat stuck on",
    "broke my leg, home all month",
    "glass top stove bought",
    "cracked heat exchanger in furnace, space heaters used",
    "pipe burst, fans and heaters for 2 weeks",
    "water softener installed near the panel",
    "laundry next to the panel moved upstairs",
    "electrician labeled the breakers, none warm",
    "thermal scan of the panel found nothing hot",
    "barn cats, heated bowl",
    "chickens: heat lamp and warm water bowl",
    "wet basement",
    "smelled like rain",
    "smoke detector replaced",
    "smoke break",
    "popcorn machine",
    "pop up camper plugged in",
    "firepit and string lights",
    "bright sunny month, solar good",
    "dim winter days",
    "breaker tripped twice in the storm",
    "storm took down a tree in the yard",
    "tree lights",
    "line dried clothes",
    "current tenant moved out",
    "charged the car at home",
    "switched to time of use",
    "plugged the leak in the roof",
    "meter replaced because the display was blank",
    "house cold and damp, heaters on",
    "warm and wet winter",
    "water line to the barn froze, heat tape",
    "hot tub cover replaced",
    "pool cover broken",
    "covered the panel with a curtain",
    "wall painted near the panel",
    "boxed up the kitchen",
    "moved boxes to the garage",
    "fire department inspection",
    "campfire in the yard",
    "dropped the phone in water",
    "glass of water spilled on the laptop",
    "dog jumped in the pool",
    "cat cries at night",
    "horse barn lights on",
    "sheep shearing week, clippers",
    "dark winter, lights on early",
    "brown out in July",
    "brownout for an hour",
    "black out two days",
    "blackout, generator used",
    "generator hot, refueled",
    "tree on the road, no power for a day",
    "branch on the roof cleared",
    "dug a garden",
    "cable company buried a cable",
    "the line to the pole was renewed by the utility",
)
EVERY = [(name, line) for name, lines in TRUE.items() for line in lines]


def _there(text: str) -> set[str | None]:
    return {sign.name for sign in signs_in(text) if sign.state is State.THERE}


TOLD_OTHERWISE = (
    "the pipe of the meter was pulled off the wall by a falling branch",
    "when the microwave runs, the lamps in the hall get extra bright",
    "one half of our home has hardly any light, the other half is blinding",
    "the TV and the router burned out together after the lights flared up",
    "three light bulbs exploded in one night",
    "lights in the back of the house very dim, the fridge light extra bright",
    "voltage went crazy, several appliances fried at once",
    "water was up to the meter after the river rose",
    "creek flooded the basement, the fuse panel was under water",
    "the electric meter was submerged in the hurricane",
    "storm surge covered the meter box",
    "our cat jumps back from its steel water dish outside",
    "dog whines when his paws touch the metal drain grate in the yard",
    "the aluminum siding gives a prickle when my arm rests on it",
    "my arm prickles when leaning on the washing machine",
    "the screen door frame bites you when barefoot",
    "gutter downspout gives you a poke when it is raining",
    "the breaker keeps tripping and there is a burnt odor",
    "breaker for the oven trips, smells bad",
    "fuse blows over and over and the fuse box smells",
    "one breaker won't reset and feels hot",
    "a funny plastic smell comes from the switch by the stairs",
    "paint on the panel door is bubbling",
    "the outlet cover has turned yellow and soft",
    "the heater plug left a scorch on the wall",
    "there is a crackle from the outlet whenever the vacuum is on",
    "sparks jumped out of the meter when the wind blew",
    "lightning hit the mast and the meter is now dangling",
    "truck tore down the wires to our house",
    "ice pulled the service wires off the gable",
    "tree came down on the line from the pole, still there",
    "the meter's plastic has melted",
    "the seal of the meter box is open and wires are showing",
    "my son got knocked back by the light switch",
    "a plumber felt current on our water pipes",
    "grass around the transformer tingles under bare feet",
    "bath water gives me pins and needles when I touch the faucet",
    "lights pulse brighter each time the well pump kicks on",
    "the meter makes a frying sound in wet weather",
    "we see steam or smoke by the meter when it rains",
    "the panel is dripping wet on the inside",
    "half of the house went dim, the microwave side got very bright",
    "the dog yelps when it drinks from the metal bowl on the patio",
    "two bulbs burst the same evening and the TV died",
    "the metal siding bites when you lean on it",
    "flood reached the meter last week",
    "one breaker will not stay on and smells",
    "our goat cried out at the iron gate after the rain",
    "the shower wall stings my back",
    "I feel a buzz in my fingers on the fridge handle",
    "the trailer steps shock us in bare feet",
    "every lamp on the left side is faint and the right side glaring",
    "stereo, router and TV all died at the same moment",
    "one leg of the power is out",
    "sprinkler sprays right on the meter",
    "snow melt drips onto the breaker panel",
    "the bottom of the meter can is eaten away by rust",
    "a car hit the meter pole",
    "the plug gets so hot the plastic went soft",
    "breaker handle was too hot to hold",
    "wall over the outlet is brown",
    "I heard a boom and saw a flash in the panel",
    "ozone smell at the meter",
    "thick smoke from behind the stove outlet",
    "voltage at the outlets is way over 130, the lamps burn out weekly",
)
"""Signs in words that the grammar was not first written for: bites, floods, bulbs that burst, a half gone dim."""
SOUNDS_LIKE_IT = (
    "read the meter in the rain myself",
    "meter man came during a thunderstorm",
    "new sparkling lights on the porch",
    "fireworks and sparks on July 4",
    "band named Sparks played in our barn",
    "saw the Sparks family for two weeks",
    "the dog refuses his bowl, new food",
    "cat bowl with heated water bought",
    "heated dog bowl in the yard since December",
    "flood lights installed in the yard",
    "flood warning, we stayed with my sister",
    "river flooded the road, we were home all week",
    "new metal siding put on the house",
    "vinyl siding replaced after hail",
    "dimmer switch put in the dining room",
    "half of the house painted",
    "half of the family away",
    "closed off half the house for winter",
    "bright sunny weeks, more solar",
    "brighter bulbs in the kitchen",
    "TV died, bought a bigger one",
    "TV and microwave replaced",
    "the bulb in the oven burst",
    "two bulbs replaced with LED",
    "neighbor's dog barks all day, AC fan on for noise",
    "mosquito bites, bug zapper on every night",
    "bug zapper bought for the patio",
    "frost bit the tomatoes, heat lamp in greenhouse",
    "breaker will be upgraded next year",
    "breaker added for the car charger",
    "one breaker labeled wrong, fixed the label",
    "new smelling soap, washer runs more",
    "skunk smell, ran fans for days",
    "musty smell in the basement, dehumidifier bought",
    "basement smells damp, dehumidifier day and night",
    "paint fumes, windows open and heat on",
    "cooked a lot, house smells of bread",
    "hot tub warm all winter",
    "heating pad for the cat",
    "warm floor in the bathroom left on",
    "meter read by a new person",
    "meter moved to the outside wall",
    "utility changed the meter in the rain",
    "electrician added an outlet in the garage",
    "rain for two weeks, sump pump ran a lot",
    "rain gauge and weather station installed",
    "water leak under the sink fixed",
    "ice storm, power out for a day",
    "lightning storm, nothing happened",
    "tree fell on the fence",
    "branch fell on the shed, nobody hurt",
    "grandma burned the roast, oven cleaned twice",
    "candles burned during the outage",
    "smoked brisket all weekend",
    "house full of smoke from wildfires, air cleaner on",
    "fog machine for Halloween",
    "sauna hot every evening",
    "kids got a trampoline with lights",
    "got knocked off the internet for days",
    "pins and needles in my leg, heating blanket every night",
    "sparks concert at our place, many guests",
    "meter reader came in the rain",
    "it rained when the meter was read",
    "the meter is in the rain garden now",
    "new pool lights, very bright side yard",
    "the front side of the house got new windows",
    "our side of the house is bright and sunny",
    "died: my father, house empty since",
    "TV and computer dead, both replaced under warranty",
    "old freezer died, new one in the garage",
    "kids burst the pool, refilled it twice",
    "pipe burst in the bathroom, plumber dried it with fans",
    "frozen pipe burst, dehumidifiers for three weeks",
    "balloons popped at the party, lights all night",
    "wasps stung my son by the pool",
    "cat bites the charger cord",
    "dog whines at the door, heat left on",
    "baby cries at night, lights on",
    "dog jumps in the pool",
    "rests on the metal bench, fan on",
    "steel workshop built, welder used",
    "aluminum boat lift motor installed",
    "metal detector hobby",
    "copper pipes replaced",
    "creek rose, sump pump on all week",
    "river view cabin rented",
    "high water in the basement, pump ran",
    "flooded rice field, well pump ran",
    "tide pool aquarium with heater",
    "underwater lights for the pond",
    "meter was covered by snow",
    "snow covered the meter, bill was estimated",
    "ivy over the meter cut back",
    "meter yellowed but fine",
    "switched to yellow bug lights",
    "turned soft water unit on",
    "outlet cover warped, painted it",
    "breaker trips when the vacuum and heater run",
    "trip to the sea, house empty",
    "all the family together for Christmas",
    "computer ran day and night, game blew my mind",
    "wind blew all month, heat on",
    "bulbs burned out, all replaced at once with LED",
    "the stove died and we cooked with the microwave",
    "washer and dryer died the same day, both replaced",
    "light bill doubled at once",
    "visible wires hidden behind the TV",
    "copper showing in the price of wire",
    "the sparks at the grinder in my shop, many hours",
    "fan bearing whines, metal noise",
    "car charger covered by the landlord",
)
"""What sounds like those, and is none."""


@pytest.mark.parametrize(("name", "line"), EVERY)
def test_a_sign_is_known_by_its_words(name: str, line: str) -> None:
    assert name in _there(line)


@pytest.mark.parametrize("line", AS_TYPED)
def test_a_sign_is_known_as_people_type_it(line: str) -> None:
    assert _there(line)


@pytest.mark.parametrize("line", [*FALSE, *HARMLESS])
def test_what_only_sounds_like_a_sign_is_none(line: str) -> None:
    assert signs_in(line) == ()


@pytest.mark.parametrize("line", OVER)
def test_what_was_repaired_is_over(line: str) -> None:
    assert {sign.state for sign in signs_in(line)} == {State.OVER}


@pytest.mark.parametrize("line", NOT_OVER)
def test_what_is_still_there_or_waits_for_its_repair_is_not(line: str) -> None:
    assert _there(line)


def test_every_sign_can_be_told_and_every_one_is_explained() -> None:
    assert set(TRUE) == set(DANGERS) == set(SIGNS)
    assert set(DANGERS) < set(DANGER)


@given(st.sampled_from(EVERY), st.sampled_from(FALSE), st.sampled_from([". ", "; ", "! ", "\n", " - "]), st.booleans())
def test_another_sentence_beside_it_hides_no_sign(
    told: tuple[str, str], beside: str, between: str, first: bool
) -> None:
    name, line = told
    if beside.endswith("fixed") or "repaired" in beside or "replaced" in beside or "report" in beside:
        return  # what was repaired may be the thing itself
    text = f"{line}{between}{beside}" if first else f"{beside}{between}{line}"
    if between in (". ", "! ", "\n", " - "):
        assert name in _there(text)


@given(
    st.sampled_from(EVERY),
    st.sampled_from([str.upper, str.title, lambda text: f"  {text} !", lambda text: text.replace(" ", "  ")]),
)
def test_case_and_spaces_change_nothing(told: tuple[str, str], change: Callable[[str], str]) -> None:
    name, line = told
    assert name in _there(change(line))


@given(st.lists(st.sampled_from(FALSE), min_size=1, max_size=4))
def test_harmless_lines_stay_harmless_together(lines: list[str]) -> None:
    assert signs_in(". ".join(lines)) == ()


@given(
    st.sampled_from(["buzzing", "sparks", "burning smell", "shock", "smoke", "melted plug"]),
    st.sampled_from(["no", "never any", "not a", "without", "no more"]),
    st.sampled_from(["at the meter", "in the panel", ""]),
)
def test_what_is_denied_is_not_there(what: str, denial: str, where: str) -> None:
    assert _there(f"{denial} {what} {where}") == set()


@given(st.text(max_size=300))
def test_any_text_is_looked_through(text: str) -> None:
    signs_in(text)


BILLS = "start,end,kwh,note\n2025-01-01,2025-02-01,600,\n2025-02-01,2025-03-01,610,{}\n"


@pytest.fixture
def house_of(tmp_path: Path) -> Callable[..., House]:
    def made(**files: str) -> House:
        for name, text in files.items():
            (tmp_path / name.replace("__", ".")).write_text(text)
        return read_house(tmp_path)

    return made


@pytest.mark.parametrize(
    ("files", "signs"),
    [
        (
            {"bills__csv": BILLS.format("lights flicker and get brighter when the fridge starts")},
            ("lights_brighten_and_dim",),
        ),
        (
            {"bills__csv": BILLS.format(""), "events__txt": "2025-02-01 meter box buzzes and smells burnt\n"},
            ("buzzing", "burning_smell"),
        ),
        (
            {
                "bills__csv": BILLS.format(""),
                "events__csv": "date,kind,note\n2025-02-01,other,burning smell at the meter\n",
            },
            ("burning_smell",),
        ),
        (
            {"bills__csv": BILLS.format(""), "loads__csv": "load,watts,note\nHeater,1500,plug gets hot\n"},
            ("sparks_or_scorching",),
        ),
        ({"bills__csv": BILLS.format("I got a shock from the washer").replace("note", "my remarks of it")}, ("shock",)),
        ({"bills__csv": BILLS.format(""), "events__csv": "date,kind,note\n2025-02-01,repair,burnt outlet\n"}, ()),
        ({"bills__csv": BILLS.format("meter box buzzes"), "house__toml": "[danger]\nbuzzing = false\n"}, ()),
    ],
)
def test_a_sign_in_a_line_of_a_file_is_as_the_flag(
    house_of: Callable[..., House], files: dict[str, str], signs: tuple[str, ...]
) -> None:
    assert house_of(**files).dangers == signs


def test_the_answer_is_urgent_and_quotes_the_line_and_how_to_say_that_it_is_over(
    house_of: Callable[..., House],
) -> None:
    house = house_of(bills__csv=BILLS.format("meter box buzzes"))
    result = reconcile.reconcile(house)
    assert result.verdict.decision == "urgent"
    short_answer = " ".join(str(block) for block in screen.short(result, lambda block: 1))
    for told in (short_answer, result._repr_html_()):
        assert "meter box buzzes" in told
        assert "buzzing = false" in told
        assert "bills.csv, row 3" in told


def test_a_doubtful_line_is_told_and_asked_about(house_of: Callable[..., House]) -> None:
    house = house_of(bills__csv=BILLS.format("lights flicker"))
    assert house.dangers == ()
    assert any("lights flicker" in notice and "may tell of a danger" in notice for notice in house.notices)


@pytest.mark.parametrize("line", ["breaker keeps tripping and smells", "half the house lost power"])
def test_what_may_be_a_sign_is_doubtful(line: str) -> None:
    assert [sign.state for sign in signs_in(line)] == [State.DOUBTFUL]


@pytest.mark.parametrize("line", ["smell of gas", "gas smell in the kitchen", "smelled propane by the range"])
def test_a_smell_of_gas_is_told_with_what_to_do(house_of: Callable[..., House], line: str) -> None:
    assert [sign.state for sign in signs_in(line)] == [State.DOUBTFUL]
    assert any("go out, and call" in notice for notice in house_of(bills__csv=BILLS.format(line)).notices)
    assert not signs_in(f"no {line}")


def test_frames_tell_and_deny_too() -> None:
    bills = [{"start": "2025-01-01", "end": "2025-02-01", "kwh": 600, "note": "the outlet sparks"}]
    assert House.from_frames(bills).dangers == ("sparks_or_scorching",)
    assert House.from_frames(bills, dangers={"sparks_or_scorching": False}).dangers == ()


@pytest.mark.parametrize("toml", ["", "[danger]\nshock = true\n"])
def test_a_danger_is_told_before_the_faults_of_the_files(house_of: Callable[..., House], toml: str) -> None:
    note = "" if toml else "meter box buzzes"
    with pytest.raises(InputError) as told:
        house_of(bills__csv=BILLS.format(note).replace("610", "6l0"), house__toml=toml)
    first, *others = map(str, told.value.faults)
    assert "a sign of danger is written here" in first
    assert "emergency line" in first
    assert ("shock" if toml else "meter box buzzes") in first
    assert len(others) == 1


@pytest.mark.parametrize("line", TOLD_OTHERWISE)
def test_a_sign_is_known_in_other_words(line: str) -> None:
    assert any(sign.state is not State.OVER for sign in signs_in(line))


@pytest.mark.parametrize("line", SOUNDS_LIKE_IT)
def test_what_sounds_like_it_is_none(line: str) -> None:
    assert not signs_in(line)
