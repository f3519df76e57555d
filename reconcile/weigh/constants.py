"""Every default of the model, in one table, with its source and reason.

A number here is common practice of the trade or a choice made on simulated houses (`tests/benchmarks`), never a
published constant; the docs repeat the table.
"""

from __future__ import annotations

FREEDOM = 6.0
"""Degrees of freedom of the unknown scale: stated limits are taken as right within a factor of about 1.5."""

SHARED_LEAN = 0.08
"""Relative standard uncertainty shared by all guessed run hours: people's guesses lean the same way."""

BALANCE_MORE = 1.5
"""A balance temperature errs by this many more of its standard uncertainties, in quadrature, than a list owns to, where
its slope about the list's own stands for all that it may do."""

BALANCE_FARTHER = 0.7
"""The same where that goes by a chord to where the bills put it: less is left out then (our choice: 0.7 foretold the
causes of simulated houses a little better than 1, and that better than 1.5)."""

STATION_WAVE_C = 0.7
"""How far the weather that a house feels swings about its station's through the year, one standard deviation of the
cosine and of the sine each [K]: a valley or a shore differs by season, and the ground, the sun and damp make a fall day
another than a spring day of the same mean (our choice: means of the month at neighboring stations differ by about 1 K,
from memory)."""

BALANCE_BEND = 0.45
"""Half of what the square of a standard normal error scatters by, by its quartiles (our choice: by its variance 0.71,
which goes by errors that are rare)."""

WAYS: tuple[tuple[float, float, float, float, float, float], ...] = (
    (0.50, 1.0, 0.0, 0.0, 0.04, 0.05),
    (0.20, 1.75, 0.05, 0.04, 0.08, 0.10),
    (0.17, 1.75, 0.09, 0.04, 0.08, 0.10),
    (0.13, 1.75, 0.15, 0.12, 0.08, 0.10),
)
"""Ways of households: chance; how many times wider than stated their limits are; relative size of habits of their own,
and of a yearly swing of these; relative noise of heating and cooling from period to period, beyond degree-days (sun,
wind, settings); and use that follows the weather and that the list lacks, as a part of all use at the mean season. The
first is the list as stated. The sizes span what a monthly model of a real building is allowed to miss, up to 15 %
(ASHRAE Guideline 14, as quoted); colder water and darker evenings alone swing a list by some 4 % (hot water a fifth to
a third of all use, taking 10 to 18 % more in winter, from memory); the chances are our choice."""

BARE_CHANCES = (0.0, 0.4, 0.4, 0.2)
"""The same chances where there is no list: nobody's ways are as even as a list."""

BARE_LEVEL_PERCENT = 120.0
"""95 % limits of the level of use where there is no list [%]: a house may use less than half of the usual, or twice as
much (our choice)."""

LASTING_HABITS = 0.6
"""Part of the variance of such habits that lasts from period to period (our choice)."""

HABIT_DAYS = 60.0
"""Days after which the lasting part has forgotten two thirds of itself (our choice)."""

HANDS_LAST = 1.0
"""How large are the ways of the people at home that may last so, as a part of what their use is stated to move from
month to month, beside it (our choice: as large again. What people switch moves by some 5 % a month and wanders too,
however right their list is: baths, guests, work from home for a while, which else look like a load that came)."""

SIZING_DAYS = 90.0
"""Days after which what a household does otherwise from month to month has forgotten two thirds of itself, where it
lasts: what lasts some months shifts the mean of the bills before and after an onset, what each month draws anew is
averaged out (our choice: 60, 90, 120 and 180 days held sizes within two points of one another on simulated houses of
four kinds)."""

LASTS = 1 / 3
"""Chance, before any bill is heard, that it lasts so; the bills say which it is (our choice: one in two to one in five
held sizes within four points of one another where habits are drawn anew each month, and where they last)."""

SIZING_WIDE = 2.0
"""How many times wider than the table of causes says the prior of a size is taken while it is fitted: the bills say how
large a cause is, but one that was named because the scatter helped it is smaller than they say (our choice: at once the
prior a meter of +50 % was stated 5 points too small where habits move, at six times it 1 too large). Of what acts all
along nothing but its prior tells how much of the level is its own: it is taken as the table says it."""

DOUBTED_FROM = 1.4
"""Times wider than stated from which a list is called over-confident."""

HEAT_PUMP_FALL = 0.025
"""More energy a degree-day that a heat pump takes for each kelvin colder, one standard deviation [1/K]: its output for
a kilowatt-hour falls by about a third from 8 to -8 degC, strip heat comes on top (ratings at 47 and 17 degF, from
memory)."""

HEATING_FALL = 0.005
"""The same of other electric heating: ducts, defrosting and settings (our choice)."""

MODEL_RESIDUAL = 0.015
"""Relative noise of the whole period that no part explains."""

READING_HOUR_SD_DAYS = 0.289
"""Time of day of a reading: rectangular within the day, 1 / sqrt(12) d."""

LOOSE_EDGE = 1.0
"""An untrue reading may have moved this part of a period's energy to its neighbour, one standard deviation."""

AWAY_SD = 0.2
"""Doubt of what a bill lacks by days on which interval data show nobody at home, as a part of it (our choice)."""

SEASON_SD = 0.25
"""Relative size of a yearly and a half-yearly swing where no weather is given, one standard deviation; beside it stand
heating and cooling of an unknown size where there is no list either."""

SEASON_UNKNOWN_SD = 0.6
"""The same where a list holds heating or cooling: a house that is cooled may take four times as much in July as in
April."""

ABSENT_DAYS = 5
"""Days from which on an absence that the diary tells of counts so (as of days away that interval data show)."""

ABSENT = 0.5
"""Part of its usual use that a house lacks while by the diary nobody is at home (our choice: from one with all left on
to one shut down with its heating set back)."""

ABSENT_SD = 0.25
"""Its standard uncertainty, alike in all absences (our choice)."""

UNLISTED_WEATHER_SD = 0.10
"""Weather-following use that the list lacks, as part of all use at the mean season, where the weather is thin."""

BARE_WEATHER_SD = 0.6
"""Use that follows the weather where there is no inventory at all, as a part of all of it: anything up to all."""

SEEN_SCATTER = 0.1
"""Scatter of a bill, as a part of the usual one, by which the others say what it should be where there is no list, so
that habits are a part of that (our choice: the size of the middle of the ways a household may have)."""

LEAST_SEEN = 0.2
"""That is never below this part of the usual one (our choice)."""

FILLED_WEATHER = 0.7
"""Relative doubt of a period's weather-following energy where nothing at all is known of the weather: a hot July may
take twice what a cool one does (chosen on simulated houses: half of it accused one in fifteen that was in order)."""

FILLED_BARE = 0.42
"""And of all use above the least of the year as the bills show it, where that is less, beside the yearly swing (our
choice, between two tried on 120 simulated houses with a list, half of them in each world: at 0.35 seven in order were
told a cause, at 0.5 two, and there a list of names hid two meters that disagree)."""

LEAST_OF_YEAR = 0.25
"""Quantile of the bills' daily use that stands for what does not follow the weather, where nothing is known of it (our
choice)."""

SAME_SEASON_DAYS = 50.0
"""Days of the year within which bills count as of one season: the neighbors, and the same month of other years (our
choice)."""

MONTH_SD_C = (3.5, 1.5)
"""How far the mean of a month in winter, and of one in summer, may be from its normal where nothing is known of it, one
standard deviation [K]: at middle latitudes 2 to 3 and 1 to 1.5 (from memory), and more, since what a kelvin uses is
learnt from few bills (our choice: at 3 K a winter 6 K colder than the other was told as a load; 4 and 2.5 K lost a
third of the loads that a single year of bills shows)."""

HARSH_C = (7.0, 5.0)
"""Degree-days a day of the coldest month, and of the hottest, from which months are off by so much; in a milder climate
they are as much steadier as it is milder [K] (our choice: by the sea months differ less, from memory)."""

MOVED_SD = 0.3
"""How far the level of a house whose weather nobody knows may have moved from its first bill to its last, as a part of
it, one standard deviation, while the bills tell what a kelvin uses (our choice: the size of causes that last)."""

LEAST_RATE = 2.0
"""Degree-days a day of a site that has hardly any [K]: one of a mild climate counts for no more than one of a harsh
one (our choice)."""

QUIET_UNLISTED_SHARE = 0.5
"""Part of the unlisted energy that draws in a quiet night, 0 to 1 (mean of the two ends)."""

QUIET_UNLISTED_SD = 0.3
"""Standard uncertainty of that part."""

NEVER_OFF_SD = 0.5
"""Part by which what a list's refrigerator, router and standby draw in a quiet night is uncertain where the reading
does not say what was left on, one standard deviation (our choice: some of it may have been switched off, or rest)."""

MOST_LOG_SD = 1.5
"""Largest standard uncertainty of a factor's logarithm: a factor of 19 either way. Wider limits say no more, and
leave nothing of the others in the arithmetic (our choice)."""

HEALTHY_METER_SD = 0.005
"""Standard deviation of registration among meters in order; inspection tolerances are four times that."""

FAMILY_LEVEL = 0.05
"""Chance that any period of a house in order is flagged."""

EVENT_CODES: dict[str, tuple[str, ...]] = {
    "new-load": ("constant-load", "timed-load", "habit-step"),
    "removed-load": ("load-gone",),
    "repair": ("constant-load", "heating-rise", "cooling-rise", "load-gone", "generation-fall"),
    "away": ("single-period",),
    "guests": ("single-period", "timed-load"),
    "occupants": ("habit-step",),
    "thermostat": ("heating-rise", "cooling-rise"),
    "outage": ("constant-load", "heating-rise", "generation-fall"),
    "other": ("constant-load", "timed-load", "habit-step"),
}
"""Which causes a line of the diary makes likelier near its date."""

EVENT_LIFT = 8.0
"""By how much a diary line multiplies the chance of such an onset within :data:`EVENT_DAYS` of it."""

EVENT_DAYS = 35.0
"""Days on either side of a diary line within which an onset counts as told by it (our choice)."""

EVENT_SMALL = 0.05
"""Part of all use below which what the diary names makes no onset likelier: a television is lost in it (our choice)."""

WORK_LIFT = 4.0
"""By how much a meter exchange multiplies the chance of a new load on its very day: panels, chargers and hot tubs are
fitted in the same visit (our choice)."""

IDLE_CHANCE = 0.15
"""Chance that a load taken for round-the-clock rests while a quiet night is read (our choice)."""

UNLISTED_RESTS = 0.5
"""The same of a load that is not on the list: it may be one of the day or of the evening (our choice)."""

WITH_NIGHTS = 1.0 / 3.0
"""Chance that the base load of the nights goes with lasting ways of the household (our choice): who comes leaves more
on, and who goes less."""

NIGHTS_PART = 1.0 / 3.0
"""Part of the base load that then goes with all that people use (our choice: in simulated homes in which people came or
left, 0.3 to 0.6 of their part; with a half two meters of real homes turned slow by half were taken for people)."""

WITH_MOST_NIGHTS, MOST_NIGHTS_PART = 0.15, 0.8
"""Chance that with people who came nearly all of the nights goes, and the part of it (our choice: a child, or somebody
at home all day and night, leaves as much more on at night; a fast meter was told for it)."""

PEAKS_PART = 0.2
"""Part of more, or less, of what people do by which the largest short peaks are larger (our choice: in simulated homes
of one, two or three people more or fewer 0.05 to 0.3); where nobody is left they go with them."""

LEAK_RESTS = 0.8
"""The same of hot water that runs off: an element of 4 kW rests most of every hour, a heat pump runs through (our
choice)."""

QUIET_OTHER_WATTS = 25.0
"""What nobody remembers to have left on in a quiet night, one standard deviation [W] (our choice)."""

FEWEST_SENT = 8
"""Bills that tell what was sent out from which a fall of the house's own generation is looked for."""

LEAST_SENT = 0.05
"""A bill that sent out less than this part of the most, a day, says only that it was little: the house may have taken
it all."""

SENT_NOTHING = 0.25
"""What such a bill is taken to have sent out at the most, as a part of the usual: what is left of it where the pattern
of a fall has the size of one (our choice)."""

IN_BURSTS = ((0.0, 0.7), (0.5, 0.2), (1.0, 0.1))
"""How far a house draws in bursts while the sun shines, and the chance of each: at 0 its draw is spread as an
exponential is, and of less that is made it sends out less still; at 1 it draws all of it at times and nothing between,
and what it sends out falls as what is made does (our choice: no register of a bill tells)."""

SENT_STEP = 0.5
"""What whole kilowatt-hours leave unsaid of a bill that sent out nothing [kWh]."""

SENT_LEVEL = 1.0
"""Level of the logarithm of what is sent out, one standard deviation: only the bills tell it."""

SENT_SUMMER = 0.5
"""Half the logarithm of summer over winter of what is sent out: about 2.7 times at middle latitudes (our choice)."""

SENT_SEASON = 0.4
"""How far that swing may be off, one standard deviation."""

SENT_SEASON_TOLD = 0.3
"""The same where the expected generation is given: a house that sends out a third of it in winter and over a half in
summer swings by so much itself (our choice)."""

SENT_SCATTER = 0.15
"""Scatter of the logarithm from bill to bill: sunshine of a month 10 %, what the house takes the rest (our choice)."""

SENT_FREEDOM = 4.0
"""Bills' worth of belief in that scatter, beside what the bills themselves show: one sky is steadier than another, one
household too (our choice)."""

SENT_BY_USE = 0.35
"""What is sent out less for each kWh that is delivered more, as the house takes more: nothing for heat at night, most
for air conditioning in the sun (our choice)."""

SENT_BY_USE_DOUBT = 0.25
"""Its doubt, one standard deviation, the same in all bills."""

SKIES = (0.25, 0.5, 0.75, 1.0)
"""Brightness of days, as a part of the brightest, each as often: from a dark day to a clear one (our choice)."""

SUNNY_USE = 0.85
"""What a house draws on the mean while the sun shines, as a part of its mean over the day (our choice)."""

SENT_FLOOR = 0.05
"""More of it where little is sent out, as a part of the most a day."""

AWAKE_CHANCE = 0.3
"""Chance that a night taken for quiet was not: somebody up, a fan, a dehumidifier, a charger that nobody thought of
(our choice)."""

AWAKE_WATTS = (200.0, 200.0)
"""What runs in such a night beyond what was written down: mean and standard deviation [W] (our choice)."""

SLIP_CHANCE = 0.1
"""Chance that a single run far from right was written down wrong (our choice)."""

CONSTANT_CHANCE = 0.3
"""Chance that the constant which all runs far from right rest on, the Wh a flash, was written wrong (our choice: it is
often guessed, or taken from another line of the face, and meters so far out are rare)."""

SLIP_SD = 1.0
"""How far off such a run reads, as a ratio, one standard deviation: a digit, or twice or half of it (our choice)."""

ODD_TIMES = 2.4
"""How many times wider than others such bills scatter: the likeliest for 5,040 bills of 280 simulated houses in order,
half of them with visitors, nights away and habits that persist, when it is learnt together with their share (2 to 3 lie
within one nat). The share so learnt is 2.4 times as large; with that the ranges would hold all bills of a house still
more often than is said."""

MOST_MISSING = 0.2
"""Part of a period's days without a temperature from which it is doubted the more (our choice)."""

THIN_WEATHER = 0.20
"""More doubt of such a period, as a part of its expected use (our choice)."""

MOST_UNHEARD = 0.3
"""Part of the periods up to which those with too few days of weather are not heard at all (chosen on simulated houses:
of eighteen bills with nine months of weather, the other nine must still show a load of 400 W)."""

LASTING_SPELLS = 0.6
"""Part of the doubt of unknown weather that lasts from period to period: cold winters, hot summers (our choice)."""

SPELL_DAYS = 90.0
"""Days after which that has forgotten two thirds of itself (our choice)."""
