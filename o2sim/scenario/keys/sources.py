"""Where defaults come from: publications, and where each was read; used by the records that declare the keys."""

FROM_MEMORY = "from memory"
WHO_2019 = "WHO-UNICEF technical specifications for oxygen therapy devices, 2019, from memory"
WHO_2016 = "WHO, Oxygen therapy for children, 2016, from memory"
LEAKAGE = (
    "assumed; that leakage is common and drives what cylinders cost: S. Howie and others, Meeting oxygen needs in "
    "Africa: an options analysis from the Gambia, 2009, read in its abstract"
)
WARMING_UP = (
    "assumed; six models gave 90 % oxygen within 10.5 min: D. Johns and others, Evaluation of six oxygen "
    "concentrators, 1985, read in its abstract"
)
WORKING = (
    "chosen so that about 0.67 of the units work: 28 of 36 and 13 of 25 did in S. La Vincente and others, The "
    "functioning of oxygen concentrators in resource-limited settings, 2011, read in its abstract"
)
STARTS = (
    "maintained sets started in 94 % (power stations, 1970s: US NRC, NUREG-0933 item B-56, read in it) to 98 % "
    "(a commercial fleet, 2014-18: Reliability assessment of a large diesel generator fleet, 2019, read in its "
    "abstract) of their trials; no hospital's figures were found"
)
RUNS_ON = (
    "half of ill kept sets fail within 48 h of running (a mean of 69 h), a fifth of well kept ones within two "
    "weeks (1,506 h): J. Marqusee and D. Jenket, Reliability of emergency and standby diesel generators: impact "
    "on energy resiliency solutions, 2020, read in its highlights; the means are those of an exponential law, "
    "while in a maintained fleet the rate after 14 h was about 1 % of that in the first half hour"
)
FUEL_CHARTS = "trade fuel charts of sets of 8 and 20 kW, approximations in their own words"
LIVES_7_YEARS = (
    "lives of over 7 years with upkeep: B. Bradley and others, A retrospective analysis of oxygen concentrator "
    "maintenance needs and costs in a low-resource setting: experience from The Gambia, 2015, read in its abstract"
)
SHELLS = "assumed; tested every 5, 10 or 12 years: 49 CFR 180.209, table 1, read in a copy of 2017"
TESTS = "5 or 10 years: common practice, by the country's rules; of the test itself ISO 18119, from memory"
SOLAR_STUDY = (
    "T. Duke and others, Solar-powered oxygen, quality improvement and child pneumonia deaths, 2021, read in its "
    "table 2"
)
HYPOXAEMIA = (
    "newborns 24.5 %, children 12.1 %, adults 10.8 % in H. Graham and others, The prevalence of hypoxaemia in "
    "paediatric and adult patients in health-care facilities in LMICs, 2025, read in its summary"
)
BATTERY_CYCLES = (
    "of a lead-acid one: 1,000 cycles at half depth (a vendor's figure) to 80 % of new (from memory) are 500 full "
    "ones"
)
BATTERY_YEARS = "assumed for a lead-acid one"
BATTERY_HEAT = "a lead-acid one ages twice as fast for each 8 degC more: common practice"
EXAMPLE = "example hospital, invented"
CUTS_OF_FACILITIES = (
    "0.67 cuts a day with a median of 2.01 h at 25 facilities: S. Miles and others, Applied Energy 401, 2025, "
    "read in its abstract"
)
CUTS_OF_FIRMS = (
    "10.3 cuts a month of 6.7 h at firms of sub-Saharan Africa: World Bank Enterprise Surveys, read there"
)
