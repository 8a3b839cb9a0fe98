"""Small published tables of durations and counts, typed from the papers named beside each."""

# Hours of 70 fans of diesel generators: (hours, failed, how many). Nelson, Hazard plotting for incomplete
# failure data, Journal of Quality Technology 1969;1:27-52; also Nelson, Applied Life Data Analysis, 1982, table
# 4.1 of chapter 4.
FANS = (
    (450, True, 1), (460, False, 1), (1150, True, 2), (1560, False, 1), (1600, True, 1), (1660, False, 1),
    (1850, False, 5), (2030, False, 3), (2070, True, 2), (2080, True, 1), (2200, False, 1), (3000, False, 4),
    (3100, True, 1), (3200, False, 1), (3450, True, 1), (3750, False, 2), (4150, False, 4), (4300, False, 4),
    (4600, True, 1), (4850, False, 4), (5000, False, 3), (6100, True, 1), (6100, False, 3), (6300, False, 1),
    (6450, False, 2), (6700, False, 1), (7450, False, 1), (7800, False, 2), (8100, False, 2), (8200, False, 1),
    (8500, False, 3), (8750, True, 1), (8750, False, 2), (9400, False, 1), (9900, False, 1), (10100, False, 3),
    (11500, False, 1),
)  # fmt: skip

# Failures and thousands of hours of ten pumps. Gaver and O'Muircheartaigh, Technometrics 1987;29:1-15, hours
# rounded to three digits as they are mostly quoted.
PUMP_FAILURES = (5, 1, 5, 14, 3, 19, 1, 1, 4, 22)
PUMP_THOUSAND_H = (94.3, 15.7, 62.9, 126.0, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5)

# Weeks in remission under 6-MP, 21 patients, True for those who relapsed. Freireich et al., Blood
# 1963;21:699-716.
REMISSION = (
    (6, True), (6, True), (6, True), (6, False), (7, True), (9, False), (10, True), (10, False), (11, False),
    (13, True), (16, True), (17, False), (19, False), (20, False), (22, True), (23, True), (25, False),
    (32, False),
    (32, False), (34, False), (35, False),
)  # fmt: skip

# Hours between failures of the air conditioning of one aircraft. Proschan, Technometrics 1963;5:375-83.
AIR_CONDITIONING_H = (3, 5, 7, 18, 43, 85, 91, 98, 100, 130, 230, 487)

# Deaths from lung diseases by month, United Kingdom, 1974 to 1979. Diggle, Time Series, 1990, table A.3.
LUNG_DEATHS = (
    3035, 2552, 2704, 2554, 2014, 1655, 1721, 1524, 1596, 2074, 2199, 2512,
    2933, 2889, 2938, 2497, 1870, 1726, 1607, 1545, 1396, 1787, 2076, 2837,
    2787, 3891, 3179, 2011, 1636, 1580, 1489, 1300, 1356, 1653, 2013, 2823,
    3102, 2294, 2385, 2444, 1748, 1554, 1498, 1361, 1346, 1564, 1640, 2293,
    2815, 3137, 2679, 1969, 1870, 1633, 1529, 1366, 1357, 1570, 1535, 2491,
    3084, 2605, 2573, 2143, 1693, 1504, 1461, 1354, 1333, 1492, 1781, 1915,
)  # fmt: skip

# Days at which valve seats of 41 engines were replaced, and (last) the day to which each engine was seen.
# Nelson and Doganaksoy 1989; Nelson, Technometrics 1995;37:147-57.
VALVE_SEATS = (
    (761,), (759,), (98, 667), (326, 653, 653, 667), (665,), (84, 667), (87, 663), (646, 653), (92, 653), (651,),
    (258, 328, 377, 621, 650), (61, 539, 648), (254, 276, 298, 640, 644), (76, 538, 642), (635, 641),
    (349, 404, 561, 649), (631,), (596,), (120, 479, 614), (323, 449, 582), (139, 139, 589), (593,), (573, 589),
    (165, 408, 604, 606), (249, 594), (344, 497, 613), (265, 586, 595), (166, 206, 348, 389), (601,),
    (410, 581, 601), (611,), (608,), (587,), (367, 603), (202, 563, 570, 585), (587,), (578,), (578,), (586,),
    (585,), (582,),
)  # fmt: skip

# Deaths or cases with and without a vaccine against tuberculosis, 13 trials: (cases, others) with, (cases,
# others) without. Colditz et al., JAMA 1994;271:698-702.
TRIALS = (
    (4, 119, 11, 128), (6, 300, 29, 274), (3, 228, 11, 209), (62, 13536, 248, 12619), (33, 5036, 47, 5761),
    (180, 1361, 372, 1079), (8, 2537, 10, 619), (505, 87886, 499, 87892), (29, 7470, 45, 7232),
    (17, 1699, 65, 1600),
    (186, 50448, 141, 27197), (5, 2493, 3, 2338), (27, 16886, 29, 17825),
)  # fmt: skip
