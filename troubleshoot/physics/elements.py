"""The chemical elements: atomic number, molar mass and density, by name or symbol."""

from dataclasses import dataclass

from troubleshoot.errors import UserError, nearest


@dataclass(frozen=True)
class Element:
    """One element: atomic number, molar mass in kg/mol, density in kg/m3.

    Molar masses: IUPAC standard atomic weights. Densities: CRC Handbook of Chemistry and Physics,
    near room temperature (copper from its older editions, by which published ranges of electrons
    are reckoned), carbon as graphite; gases at 20 degC and 1 atm, from the ideal gas law.
    """

    number: int
    symbol: str
    name: str
    molar_mass: float
    density: float


# Z, symbol, name, g/mol, g/cm3.
_TABLE = """
1 H hydrogen 1.008 8.381e-05
2 He helium 4.0026 0.0001664
3 Li lithium 6.94 0.534
4 Be beryllium 9.0122 1.848
5 B boron 10.81 2.34
6 C carbon 12.011 2.26
7 N nitrogen 14.007 0.001165
8 O oxygen 15.999 0.00133
9 F fluorine 18.9984 0.00158
10 Ne neon 20.1797 0.0008389
11 Na sodium 22.9898 0.971
12 Mg magnesium 24.305 1.738
13 Al aluminium 26.9815 2.6989
14 Si silicon 28.085 2.33
15 P phosphorus 30.9738 1.82
16 S sulphur 32.06 2.07
17 Cl chlorine 35.45 0.002947
18 Ar argon 39.95 0.001661
19 K potassium 39.0983 0.862
20 Ca calcium 40.078 1.55
21 Sc scandium 44.9559 2.989
22 Ti titanium 47.867 4.54
23 V vanadium 50.9415 6.11
24 Cr chromium 51.9961 7.19
25 Mn manganese 54.938 7.33
26 Fe iron 55.845 7.874
27 Co cobalt 58.9332 8.9
28 Ni nickel 58.6934 8.902
29 Cu copper 63.546 8.92
30 Zn zinc 65.38 7.133
31 Ga gallium 69.723 5.904
32 Ge germanium 72.63 5.323
33 As arsenic 74.9216 5.73
34 Se selenium 78.971 4.79
35 Br bromine 79.904 3.12
36 Kr krypton 83.798 0.003484
37 Rb rubidium 85.4678 1.532
38 Sr strontium 87.62 2.54
39 Y yttrium 88.9058 4.469
40 Zr zirconium 91.224 6.506
41 Nb niobium 92.9064 8.57
42 Mo molybdenum 95.95 10.22
43 Tc technetium 98 11.5
44 Ru ruthenium 101.07 12.41
45 Rh rhodium 102.906 12.41
46 Pd palladium 106.42 12.02
47 Ag silver 107.868 10.5
48 Cd cadmium 112.414 8.65
49 In indium 114.818 7.31
50 Sn tin 118.71 7.31
51 Sb antimony 121.76 6.691
52 Te tellurium 127.6 6.24
53 I iodine 126.904 4.93
54 Xe xenon 131.293 0.005458
55 Cs caesium 132.905 1.873
56 Ba barium 137.327 3.5
57 La lanthanum 138.905 6.145
58 Ce cerium 140.116 6.77
59 Pr praseodymium 140.908 6.773
60 Nd neodymium 144.242 7.008
61 Pm promethium 145 7.264
62 Sm samarium 150.36 7.52
63 Eu europium 151.964 5.244
64 Gd gadolinium 157.25 7.901
65 Tb terbium 158.925 8.23
66 Dy dysprosium 162.5 8.551
67 Ho holmium 164.93 8.795
68 Er erbium 167.259 9.066
69 Tm thulium 168.934 9.321
70 Yb ytterbium 173.045 6.966
71 Lu lutetium 174.967 9.841
72 Hf hafnium 178.486 13.31
73 Ta tantalum 180.948 16.654
74 W tungsten 183.84 19.3
75 Re rhenium 186.207 21.02
76 Os osmium 190.23 22.57
77 Ir iridium 192.217 22.56
78 Pt platinum 195.084 21.45
79 Au gold 196.967 19.3
80 Hg mercury 200.592 13.546
81 Tl thallium 204.38 11.85
82 Pb lead 207.2 11.35
83 Bi bismuth 208.98 9.747
84 Po polonium 209 9.32
86 Rn radon 222 0.009229
88 Ra radium 226 5
89 Ac actinium 227 10.07
90 Th thorium 232.038 11.72
91 Pa protactinium 231.036 15.37
92 U uranium 238.029 18.95
"""
ELEMENTS = tuple(
    Element(int(z), symbol, name, float(mass) / 1000, float(density) * 1000)
    for z, symbol, name, mass, density in (line.split() for line in _TABLE.split("\n") if line)
)
_ALSO = {"aluminum": "aluminium", "sulfur": "sulphur", "cesium": "caesium"}
_BY_NAME = {key: e for e in ELEMENTS for key in (e.name, e.symbol.lower())}


def element_named(name: str) -> Element:
    """The element of that name or symbol; raises `UserError` for any other. Source: the table.

    >>> element_named("Au").name, element_named("gold").number
    ('gold', 79)
    """
    key = " ".join(name.lower().split())
    key = _ALSO.get(key, key)
    if key not in _BY_NAME:
        raise UserError(f"{name!r} is no element{nearest(key, list(_BY_NAME))}.")
    return _BY_NAME[key]
