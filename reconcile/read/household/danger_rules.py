"""Words, phrases and runs of them that tell of a danger: what :mod:`reconcile.read.household.danger_words` reads."""

from __future__ import annotations

GROUND_WORDS = "ground|grass|lawn|yard|concrete|driveway|patio|deck|floor|dirt|mud|spot|spots|path|wall|ceiling|roof"
APPLIANCE = (
    r"(?:space |water |pool |heat |well |sump )?(?:heater|pump)|dryer|washer|range|oven|stove|ac|a c|furnace|fridge|"
    r"freezer|dishwasher|pool|hot tub|car charger"
)
BITER = (
    r"dog|cat|horse|snake|spider|mosquito(?:e)?|bug|insect|bee|wasp|hornet|tick|fly|flie|ant|frost|puppy|"
    r"raccoon|squirrel"
)
PLACE_IN = "garage|den|kitchen|basement|shop|shed|barn|attic|office|hall|bedroom|living room|bathroom|laundry"
ONE = r"you|me|us|him|her|them|one|everyone|anyone|my \w+|our \w+"
PHRASES = {
    "SMALL": r"(?:will not|won t|does not|doesn t|do not|don t|would not|wouldn t|cannot|can t) (?:stay|hold|"
    r"reset)(?: (?:on|in))?|"
    r"if (?:i|we|he|she|anyone|someone)|"
    rf"(?:for|of) (?:the |my |our |an? )?(?:{APPLIANCE}|{PLACE_IN})|(?:in|at) (?:the |my |our )?(?:{PLACE_IN})|"
    r"on (?:the |my |our |an? )?window (?:ac|a c|unit)|so (?=hot|warm)",
    "FENCER": r"(?:electric|hot|cattle|horse) fenc(?:es?|ing)|fence (?:charger|energizer)s?|energizers?|"
    r"(?:invisible|shock|training|bark) collars?",
    "HARMLESS": rf"(?:{BITER})s? (?:bites?|bit|bitten|stings?|stung)(?: \w+)?|"
    rf"(?:bit|bitten|stung) by (?:an? |the |some )?(?:\w+ )?(?:{BITER})s?|flood ?(?:lights?|lamps?|warnings?|"
    rf"insurance)|"
    r"sparks (?:family|band|concert|show|game|tickets)|(?:band|family|named|called) (?:named |called )?sparks|"
    r"hot ?water(?: (?:heater|tank|tap)s?)?|hot ?plates?|"
    r"outlet (?:malls?|stores?)|"
    r"(?:solar|pv|radiant|wall|control|touch|heater|heat|heating) panels?|panel heaters?|heat(?:ing)? (?:cable|"
    r"tape)s?|"
    r"(?:water|gas|parking|oil|flow) meters?|spark ?plugs?|sparks?,? (?:nv|nevada)|"
    r"spark(?:s|ed|ing)? (?:interest|debate|joy|an?|the)|(?:fire|smoke|co) (?:alarm|detector)s?|"
    r"(?:bill|sticker|price|rate|pool|static|after|thermal|culture)[ -]?shocks?|"
    r"shock(?:s|ed|ing)? (?:treatment|absorbers?|collars?|value|wave|(?:the )?(?:pool|spa|well))|arc[ -]?fault|"
    r"burn(?:ed|t|s|ing)?[ -]out|(?:warm|hot) (?:white|bulbs?|weather|days?|spell|summer|months?|season|air|climate)|"
    r"plug[ -]?ins?|smart plugs?|(?:doorbell|phone) buzz\w*|buzz ?cut|live in|new (?:lights|lamps|bulbs)|"
    r"switch(?:ed)? (?:on|off|to)|no (?:idea|doubt|matter|wonder)|do not know|don t know|"
    r"not (?:only|just|sure|good|normal|right|ok|okay|safe|fine|nice)",
    "SPARKS": r"blue flash(?:es)?|flash and (?:a )?bang|flash(?:es)? (?:at|from|inside|in) (?:the|our|"
    r"my) (?:electric )?"
    r"(?:meter|panel|breaker|fuse|outlet|socket)(?: box)?|"
    r"(?:fire|flames?) (?:in|at|inside|from|behind) (?:the |our |my |an? )?(?:meter|panel|breaker|fuse|outlet|"
    r"socket|wall)s?(?: box)?",
    "MARK": r"(?:brown|black|dark|burn|heat|arc) (?:marks?|spots?|stains?|streaks?)|(?:burn|arc) ?marks?|soot",
    "WATER": r"(?:green|white) (?:crud|stuff|powder|deposits?)",
    "WETGROUND": rf"(?:wet|damp|soaked|soggy) (?:{GROUND_WORDS})|(?:{GROUND_WORDS}) (?:when|if|while|after|"
    rf"where) (?:it is |it s |it |its )?"
    r"(?:wet|damp|rains?|rained|raining)",
    "ESHOCK": r"electric(?:al)? shocks?|electro(?:cuted|shocked)",
    "BITES_ONE": rf"(?:bites|bit|stings|stung|pokes|poked|nips|nipped|pricks|pricked|prickles|prickled|"
    rf"kicks) (?:{ONE})|"
    rf"(?:gives?|gave|giving) (?:{ONE}) (?:an? |the )?(?:little |small |slight )?(?:poke|prickle|prickling|bite|"
    rf"kick|sting|"
    r"prick|belt)",
    "JUMP_BACK": r"(?:jump|shrink|flinch)(?:s|ed)? (?:back |away )?from|(?:pulls|backs|shies) (?:back|away) from",
    "FELT": r"pins and needles|(?:feel|feels|felt|feeling) (?:an? |some )?(?:buzz|buzzing|prickle|prickling|"
    r"sting|poke)|(?:got|was|were|been|get|gets) (?:knocked|thrown) (?:back|across)|"
    r"(?:feel|feels|felt|feeling) (?:an? |the |some )?(?:little |slight |small |bit of )?(?:current|"
    r"electricity|voltage)|"
    r"(?:got|get|gets|been) (?:bit|bitten|a bite|a belt|belted|a poke)",
    "BURNSMELL": r"electric(?:al)? (?:smell|odou?r|fire smell)|(?:smell|smells|smelled|odou?r) (?:of|"
    r"like) (?:electric(?:al|ity)?|ozone)",
    "NEUTRAL": r"(?:loose|bad|broken|lost|open|floating|corroded|failing|burnt) neutral|"
    r"neutral (?:wire )?(?:is |was |has |had |came |gone |been )*(?:loose|bad|broken|lost|open|corroded|"
    r"floating|off)",
    "TREE_ON": r"(?:tree|limb|branch)(?:es|s)? (?:limb |branch )?(?:is |are |was |fell |lying |leaning |"
    r"resting |rubbing |came down |down )*"
    r"(?:on|onto|against|across)",
    "CUT": r"(?:cut|nicked|hit|struck|sliced|dug|drilled)(?: up| into| through)? (?:the |a |an |our |my )?"
    r"(?:buried|underground|power|electric|electrical|main|service) (?:power |electric |main )?(?:cable|line|"
    r"wire|feed)s?",
    "OFF_WALL": r"(?:hit|rammed|struck|(?:backed|drove|crashed|ran|bumped) into) (?:the |our |my )?(?:electric |"
    r"power )?(?:meter|panel|mast|"
    r"conduit|transformer|weatherhead)|(?:wire|cable|line|conduit|mast|meter(?: box)?)s? (?:came|is coming|"
    r"coming|fell|blew|"
    r"has come|torn|ripped|hanging|pulled) "
    r"(?:off|down from|out from|away from) (?:the |our |my )?(?:house|wall|pole|roof|mast|siding|eaves?)",
    "COVER": r"(?:meter|meter s|panel|breaker box|fuse box) (?:glass|face|dome|lens|cover|front|housing)|"
    r"(?:glass|cover|dome|face|front|lens)(?: cover)? (?:on|of|over|from) (?:the |our |my )?(?:electric |"
    r"power |electricity )?(?:meter|panel)",
    "BOX": r"(?:electric|electrical|elec|electricity|utility|transformer|gr[ae]y|metal|main) box(?:es)?|"
    r"transformers?|"
    r"box(?:es)? (?:outside|out side|on (?:the |our )?(?:pole|wall|side|outside|side of (?:the |our )?(?:house|"
    r"home|garage)))|"
    r"(?:outside|outdoor|pole) box(?:es)?|box where (?:the )?(?:wires|power|line|cable) comes? in|"
    r"wall (?:behind|around|under|over|above|next to|beside|near) (?:the |our |my )?(?:electric |breaker |"
    r"fuse )?(?:panel|meter|box)|"
    r"load cent(?:er|re)s?|consumer units?|(?:fuse|breaker|meter|disconnect) ?box(?:es)?|main switch|"
    r"(?:meter|breaker) (?:base|socket|can|pan|cabinet|panel)s?|panel ?(?:board|box)",
    "OUTLET": r"(?:power|plug) strips?|(?:light|wall) switch(?:es)?|(?:extension|power) cords?|"
    r"(?:junction|outlet) ?box(?:es)?|(?:in|inside|behind|from) (?:(?:the|an?|our|my) )?walls?",
    "SERVICE": r"service (?:drop|cable|entrance|line|wire|mast|conduit)s?|weather ?heads?|"
    r"(?:power |electric )?(?:wire|cable|line)s? (?:from|between|off|to) (?:the |our )?(?:pole|street|house|roof)"
    r"(?: (?:to|and) (?:the |our )?(?:pole|house|meter|mast|roof))?",
    "TOUCHED": r"washing machines?|bath ?tubs?|hot ?tubs?|water (?:heater|trough|pipe|line|tap|faucet|dish|bowl)s?|"
    r"(?:screen|door|window) ?(?:door )?frames?|ac unit|garden hose|pool water",
    "WILD_VOLTS": r"(?:voltage|volts) (?:is |was |were |are |went |goes |got |gets |way )*(?:too high|crazy|"
    r"wild|all over)|"
    r"(?:voltage|volts) (?:at the outlets? )?(?:is |was |were |are |reads? |shows? |way |well )*(?:over|"
    r"above) 1[3-9][0-9]|"
    r"one (?:leg|phase) (?:of (?:the |our )?(?:power|service|electricity) )?(?:is |was |went )?(?:out|dead|lost|"
    r"off|gone)",
    "AT_ONCE": r"(?:the )?same (?:evening|night|time|moment|minute|hour)|(?:all )?at once|(?:all )?together|"
    r"in (?:one|a single) (?:night|evening|day|go)|within (?:seconds|minutes|an hour|the hour)",
    "DIED": r"burn(?:ed|t)? out|went (?:dead|bad)",
    "REACHED": r"up to|as high as|(?:rose|came|got|climbed) (?:up )?to|reach(?:ed|es)|covered",
    "FLOOD": r"storm surges?|high water",
    "UNDER": r"under ?water|(?:is|was|were|got|been) flooded",
    "OPEN_WIRES": r"(?:wires?|wiring|conductors?) (?:is |are |was |were )?(?:showing|shows?|visible|(?:sticking|"
    r"hanging|"
    r"poking) out)",
    "CONTACT": r"bare ?(?:feet|foot|hands?|arms?)",
    "HALF_OUT": r"half (?:of )?(?:the |our |my )?(?:house|home|lights|outlets) "
    r"(?:(?:lost|has no|had no|without|no) power|(?:is |are |was |were |went )?(?:dead|out|off))|"
    r"power (?:is |was |went )?(?:out|off|lost) in half (?:of )?(?:the |our |my )?(?:house|home)",
    "SIDE": r"(?:one |the other |other )?half (?:of )?(?:the |our |my )?(?:house|home|lights|lamps|rooms|outlets)|"
    r"(?:one|other|that|this|second) (?:half|side)|side of (?:the |our |my )?(?:house|home)|"
    r"(?:tv|kitchen|microwave|fridge|bath|bedroom|garage|front|back|left|right) side",
    "DIM": r"faint|(?:hardly|barely|almost no|scarcely) (?:any )?light",
    "FIXED": r"dealt with|taken care of|took care of|put right|all clear",
    "FEARED": r"in case|call when|(?:danger|risks?) of|should (?:you|it|there)|report (?:any|if)",
    "STILL": r"not yet|for now|by itself",
    "AND": r"and|then|, (?:and )?(?:then |now )?(?:it|which|that)|, now",
}
"""Runs of words that count as one word of a group."""

WORDS = {
    "METER": "meter meters",
    "BOX": "panel panels pannel breaker breakers fusebox fuse fuses switchboard subpanel disconnect",
    "OUTLET": (
        "outlet outlets receptical recepticals socket sockets receptacle receptacles plug plugs switch switches cord "
        "cords cable cables wire wires wiring"
    ),
    "DEVICE": "charger chargers adapter adapters",
    "SERVICE": "conduit weatherhead mast",
    "TOUCHED": (
        "touch touched touching tap taps faucet faucets shower bath washer dryer fridge refrigerator freezer "
        "sink siding downspout grate handrail stove oven range dishwasher microwave pump pool railing fence "
        "gutter heater furnace lamp toaster "
        "kettle appliance appliances machine pipe pipes "
        "rail ladder gate waterer hose doorknob microwave spigot bathtub"
    ),
    "METAL": "metal steel aluminum aluminium iron copper",
    "ELECTRONICS": "tv tvs television televisions router routers modem computer computers stereo electronics",
    "BITE": "bite bites prick pricks prickle prickles prickling sting stings poke pokes",
    "CONTACT": "lean leans leaned leaning rests resting barefoot brush brushes brushed",
    "SPRAY": "sprays sprayed spraying splashes splashed splashing",
    "BURST": "burst bursts bursting exploded explode explodes exploding",
    "BLEW": "blew blow blows blown popped pop",
    "DIED": "died fried dead ruined killed",
    "FLOOD": "flood floods flooding floodwater floodwaters",
    "RIVER": "river creek brook sea tide snowmelt sewage",
    "UNDER": "submerged underwater",
    "RAIN": "rain",
    "TRIP": "trips tripped tripping trip",
    "BUBBLED": "bubbling bubbled blistered blistering deformed",
    "YELLOW": "yellow yellowed soft crisp crispy",
    "BUZZ": (
        "buzz buzzes buzzed buzzing crackle crackles crackled crackling sizzle sizzles sizzled sizzling arc "
        "arcs arced "
        "arcing buzing buzzin hiss hisses hissed hissing fizz fizzes fizzing"
    ),
    "HUM": "hum hums humming hummed humm humms",
    "POPPING": "popping bang bangs banging snapping",
    "LOUD": "loud loudly",
    "WARM": "warm warmer hot hotter overheat overheats overheated overheating",
    "SPARK": "spark",
    "SPARKS": "sparks sparked sparking",
    "MARK": (
        "melt melts melted melting scorch scorched charred singed blackened smoke smokes smoked smoking flame flames "
        "glow glows glowed glowing discolored discoloured"
    ),
    "DARK": "brown black browned",
    "BURNT": "burn burns burnt burned burning",
    "SMELL": "smell smells smelled smelt smelling smelly odor odour stench reek reeks",
    "FISHY": "fishy acrid ozone",
    "GAS": "gas propane",
    "FULL": "full filled",
    "STUFF": "plastic rubber insulation hair fish",
    "FOOD": (
        "toast dinner cook cooked cooking cookies food cake candle candles incense fireplace woodstove wood logs "
        "leaves brush campfire grill bbq barbecue wildfire wildfires trash weld welding grinder fireworks "
        "firework sparklers sparkler concert festival"
    ),
    "SHOCK": "shock shocks shocked shocking",
    "ZAP": (
        "zap zaps zapped jolt jolts tingle tingles tingled tingling tingly tickle tickles electrocuted electrified"
    ),
    "GIVE": "got get gets getting had felt feel feels feeling received give gives gave giving suffered took",
    "PERSON": (
        "me us him her them everyone people anyone somebody someone wife husband son daughter kid kids child children "
        "mother father mom dad guest"
    ),
    "ANIMAL": (
        "dog dogs puppy cat cats kitten cow cows calf cattle horse horses sheep goat goats pig pigs pet pets animal "
        "animals"
    ),
    "YELP": (
        "yelp yelps yelped yelping cries cried crying whimpers whimpered whimper whine whines whined squeals "
        "squealed winces"
    ),
    "JUMP": "jump jumps jumped",
    "SHUN": "refuses refused avoids avoided wouldn won",
    "GROUND": GROUND_WORDS.replace("|", " "),
    "LIGHT": "lights lamps bulbs lighting",
    "DIM": (
        "flicker flickers flickered flickering dim dims dimmed dimming pulse pulsing surge surges surged "
        "surging flash "
        "flashes flashing"
    ),
    "CHANGE": "go goes went going grow grows grew turn turns turned become becomes became come comes came coming",
    "BRIGHT": "bright brighter blinding glaring",
    "BRIGHTEN": "brighten brightens brightened brightening flare flares flared",
    "WATER": "water rainwater moisture condensation puddle puddles rust corrosion",
    "WET": "wet soaked rusty rusted rusting corroded fogged",
    "LEAK": "leak leaks leaking leaked drip drips dripping overflowed overflowing flooded",
    "RUN": "run runs running ran",
    "INTO": "in inside into under on through below behind above over beneath",
    "BROKEN": "broken broke damaged tore torn ripped cracked bent fell snapped split shattered smashed missing",
    "LOOSE": "loose hanging pulled pulling sagging dangling",
    "BARE": "bare exposed frayed chewed",
    "LIVE": "live",
    "NONE_AT_ALL": "none nothing",
    "NOT": "no not never without nor neither nobody isn wasn aren weren doesn didn don hasn haven",
    "FEARED": "if whether unless avoid prevent beware",
    "FIXED": "fixed repaired replaced resolved solved rewired tightened",
    "STILL": "still again yet however continues",
    "LATER": "need needs must should will to want wants asked ask wait waiting until before tomorrow soon",
    "BILL": (
        "bill bills price prices cost costs rate rates invoice invoices amount amounts statement statements dollar "
        "dollars total charge charges increase usage kwh consumption use"
    ),
    "NEW": "installed bulb led leds upgraded changed swapped bought sun",
    "BREAK": ", ; : ( ) but so while because since though",
    "STOP": ".",
    "ROOM": (
        "electric electrical electricity main service smart utility hydro power light wall kitchen bathroom garage "
        "basement laundry bedroom room hall living front back"
    ),
    "SMALL": (
        "i we he she they you is was are were be been being has have seems seem makes make made making sounds "
        "sound or "
        "a an the it its that which there very really too quite bit little lot slightly rather now always often "
        "sometimes also starts start started keeps kept keep of at off out up from outside near nearby next by beside "
        "around like some any something this my our your box door cover side noise noises strange "
        "weird odd faint faintly slight constant strong strongly blue small big mild minor nasty tiny painful "
        "bad real "
        "quick few several another old new one two both pretty even just hear heard see saw seen notice noticed onto "
        "with when mark marks where after time times every each day night evening others other "
        "half enough onto too to for"
    ),
}
"""The words of each group; any other word belongs to none."""

ANY_OF = {
    "PANEL": ("METER", "BOX", "COVER"),
    "PLACE": ("PANEL", "OUTLET"),
    "BEING": ("PERSON", "ANIMAL"),
    "WATERS": ("WATER", "RAIN"),
    "FLEE": ("YELP", "JUMP"),
    "STRUCK": ("TOUCHED", "ELECTRONICS"),
    "TOUCH": ("TOUCHED", "METAL", "PANEL", "OUTLET", "DEVICE", "WETGROUND"),
    "SCORCH": ("MARK", "BURNT", "SPARK", "SPARKS"),
    "TURN": ("CHANGE", "GIVE"),
    "OFF": ("BROKEN", "LOOSE"),
    "OPEN": ("BARE", "LIVE"),
    "MELTED": ("MARK", "WARM", "BURNT"),
}
BETWEEN = (
    "SMALL LOUD GROUND STUFF ROOM GIVE PERSON ANIMAL RUN INTO CHANGE BUZZ HUM WARM MARK SPARK SPARKS BURNT SMELL DIM "
    "AND LATER STILL TRIP REACHED SIDE METAL"
)
"""What may stand between the two words of a sign."""
BEHIND = "TRIP SMALL LOUD RUN GIVE INTO CHANGE BREAK STOP AND BUZZ SMELL STILL LATER FIXED"
"""What may follow ``warm``: before a thing it says that the thing is warm."""

RULES = (
    ("shock", "GIVE gap SHOCK"),
    ("shock", "GIVE gap ZAP"),
    ("shock", "ESHOCK"),
    ("shock", "FELT gap TOUCH"),
    ("shock", "ANIMAL gap FLEE gap WETGROUND"),
    ("shock", "WETGROUND BREAK? gap FLEE"),
    ("shock", "ANIMAL gap YELP gap METAL"),
    ("shock", "ANIMAL gap YELP gap TOUCHED gap METAL"),
    ("shock", "ANIMAL gap JUMP_BACK gap METAL"),
    ("shock", "TOUCH gap BITES_ONE"),
    ("shock", "BITES_ONE gap TOUCH"),
    ("shock", "BITES_ONE gap CONTACT"),
    ("shock", "TOUCH gap BITE BREAK? gap CONTACT"),
    ("shock", "BITE gap CONTACT gap TOUCH"),
    ("shock", "ZAP BEING"),
    ("shock", "SHOCK BEING gap TOUCH"),
    ("shock", "SHOCK BEING gap CONTACT"),
    ("shock", "SHOCK gap TOUCH"),
    ("shock", "ZAP gap TOUCH"),
    ("shock", "TOUCH gap SHOCK BEING"),
    ("shock", "TOUCH gap ZAP"),
    ("burning_smell", "BURNT gap STUFF? OUTLET? SMELL"),
    ("burning_smell", "SMELL gap STUFF? BURNT"),
    ("burning_smell", "SMELL gap MELTED STUFF"),
    ("burning_smell", "MELTED STUFF SMELL"),
    ("burning_smell", "WARM SMELL gap PLACE"),
    ("burning_smell", "SMELL gap STUFF gap PLACE"),
    ("burning_smell", "BURNSMELL"),
    ("burning_smell", "FISHY SMELL"),
    ("burning_smell", "MARK SMELL"),
    ("burning_smell", "SMELL gap MARK gap PLACE"),
    ("burning_smell", "SMELL gap FISHY gap PLACE"),
    ("burning_smell", "PLACE gap SMELL gap FISHY"),
    ("burning_smell", "PLACE gap SMELL gap STUFF"),
    ("buzzing", "PLACE gap BUZZ"),
    ("buzzing", "BUZZ gap PLACE"),
    ("buzzing", "BOX gap HUM"),
    ("buzzing", "HUM gap BOX"),
    ("buzzing", "METER gap HUM gap LOUD"),
    ("buzzing", "METER gap LOUD gap HUM"),
    ("buzzing", "LOUD gap HUM gap METER"),
    ("buzzing", "POPPING gap PLACE"),
    ("buzzing", "PLACE gap POPPING"),
    ("warm_meter", "PANEL gap WARM end"),
    ("warm_meter", "WARM PANEL"),
    ("sparks_or_scorching", "OUTLET gap WARM end"),
    ("sparks_or_scorching", "WARM OUTLET"),
    ("sparks_or_scorching", "PLACE gap SCORCH"),
    ("sparks_or_scorching", "DEVICE gap SCORCH"),
    ("sparks_or_scorching", "SCORCH gap TOUCHED? PLACE"),
    ("sparks_or_scorching", "PLACE gap DARK end"),
    ("sparks_or_scorching", "PLACE gap BUBBLED end"),
    ("sparks_or_scorching", "PLACE gap CHANGE gap YELLOW end"),
    ("sparks_or_scorching", "SPARKS"),
    ("lights_brighten_and_dim", "LIGHT gap TURN gap BRIGHT"),
    ("lights_brighten_and_dim", "LIGHT gap BRIGHTEN"),
    ("lights_brighten_and_dim", "BRIGHTEN gap LIGHT"),
    ("lights_brighten_and_dim", "HALF_OUT BREAK? gap BRIGHT"),
    ("lights_brighten_and_dim", "HALF_OUT BREAK? gap LIGHT gap BRIGHT"),
    ("lights_brighten_and_dim", "SIDE gap DIM BREAK? gap BRIGHT"),
    ("lights_brighten_and_dim", "DIM BREAK? gap SIDE gap BRIGHT"),
    ("lights_brighten_and_dim", "SIDE gap BRIGHT BREAK? gap DIM"),
    ("lights_brighten_and_dim", "LIGHT gap BURST"),
    ("lights_brighten_and_dim", "LIGHT gap BLEW gap AT_ONCE"),
    ("lights_brighten_and_dim", "STRUCK gap DIED gap AT_ONCE"),
    ("lights_brighten_and_dim", "WILD_VOLTS"),
    ("lights_brighten_and_dim", "NEUTRAL"),
    ("lights_brighten_and_dim", "DIM BREAK? gap LIGHT gap BRIGHT"),
    ("lights_brighten_and_dim", "LIGHT gap DIM gap BRIGHT"),
    ("lights_brighten_and_dim", "LIGHT gap BRIGHT gap DIM"),
    ("water_at_meter", "WATERS gap INTO gap PANEL"),
    ("water_at_meter", "WATERS gap LEAK gap PANEL"),
    ("water_at_meter", "WATERS gap LEAK gap SERVICE"),
    ("water_at_meter", "WATERS gap INTO gap SERVICE"),
    ("water_at_meter", "WATERS gap RUN gap PANEL"),
    ("water_at_meter", "WATERS gap GROUND gap PANEL"),
    ("water_at_meter", "WATER PANEL"),
    ("water_at_meter", "LEAK gap PANEL"),
    ("water_at_meter", "PANEL gap WATER"),
    ("water_at_meter", "PANEL gap WET"),
    ("water_at_meter", "PANEL gap FULL SMALL? WATER"),
    ("water_at_meter", "FLOOD gap PANEL"),
    ("water_at_meter", "SPRAY gap PANEL"),
    ("water_at_meter", "WATERS gap REACHED gap PANEL"),
    ("water_at_meter", "RIVER gap REACHED gap PANEL"),
    ("water_at_meter", "PANEL gap UNDER"),
    ("water_at_meter", "UNDER gap PANEL"),
    ("water_at_meter", "PANEL gap LEAK WET"),
    ("damaged_conduit", "SERVICE gap OFF"),
    ("damaged_conduit", "SERVICE gap METER gap OFF"),
    ("damaged_conduit", "SERVICE gap BARE"),
    ("damaged_conduit", "OFF gap SERVICE"),
    ("damaged_conduit", "OFF_WALL"),
    ("damaged_conduit", "CUT"),
    ("damaged_conduit", "TREE_ON gap SERVICE"),
    ("damaged_conduit", "OPEN gap SERVICE"),
    ("damaged_conduit", "COVER gap BROKEN"),
    ("damaged_conduit", "BROKEN gap COVER"),
    ("damaged_conduit", "PANEL gap LOOSE"),
    ("damaged_conduit", "OPEN_WIRES"),
    ("damaged_conduit", "OPEN gap OUTLET"),
    ("damaged_conduit", "OUTLET gap BARE"),
    (None, "HALF_OUT"),
    (None, "LIGHT gap DIM"),
    (None, "ANIMAL gap SHUN gap WETGROUND"),
    (None, "PANEL gap HUM"),
    (None, "HUM gap PANEL"),
    (None, "SMELL gap GAS"),
    (None, "GAS gap SMELL"),
    (None, "PLACE gap SMELL"),
    (None, "BOX gap TRIP BREAK? gap SMELL"),
    (None, "SMELL gap PLACE"),
)
"""Each sign and a run of groups that tells of it; none where it may be a sign, and may not."""
