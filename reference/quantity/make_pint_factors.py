"""Writes pint_factors.csv: conversions by the units library `pint`, to hold against our own factors.

    python3 -m venv /tmp/venv && /tmp/venv/bin/pip install pint==0.25.3
    /tmp/venv/bin/python reference/quantity/make_pint_factors.py > reference/quantity/pint_factors.csv

Each row is a text our reader takes, the dimension it is read as, and what pint makes of the same quantity in our
canonical unit. Where pint has no such unit, it is composed here from pint's own base units; the column `pint` says
how. Temperatures go through pint's offset scales. The column `tolerance` is relative: 1e-12 for a chain of rounded
products; 2e-7 where a Btu takes part, because pint keeps it with seven digits (1055.056 J).
"""

import pint

ureg = pint.UnitRegistry()
Q = ureg.Quantity

ROWS = [
    # our text, dimension, figure, pint unit, canonical unit in pint
    ("7.5 in", "Length", 7.5, "inch", "meter"),
    ("2.5 ft", "Length", 2.5, "foot", "meter"),
    ("3 yd", "Length", 3, "yard", "meter"),
    ("2 mi", "Length", 2, "mile", "meter"),
    ("6 mil", "Length", 6, "thou", "meter"),
    ("250 µm", "Length", 250, "micrometer", "meter"),
    ("120 ft²", "Area", 120, "foot**2", "meter**2"),
    ("3 ha", "Area", 3, "hectare", "meter**2"),
    ("33722 ft³", "Volume", 33722, "foot**3", "meter**3"),
    ("50 gal", "Volume", 50, "gallon", "meter**3"),
    ("2 cu yd", "Volume", 2, "yard**3", "meter**3"),
    ("85 cfm", "VolumeFlow", 85, "foot**3/minute", "meter**3/second"),
    ("210 m³/h", "VolumeFlow", 210, "meter**3/hour", "meter**3/second"),
    ("2.5 gpm", "VolumeFlow", 2.5, "gallon/minute", "meter**3/second"),
    ("90 L/d", "VolumeFlow", 90, "liter/day", "meter**3/second"),
    ("5 lb/h", "MassFlow", 5, "pound/hour", "kilogram/second"),
    ("5.5 lb", "Mass", 5.5, "pound", "kilogram"),
    ("8 oz", "Mass", 8, "ounce", "kilogram"),
    ("7 gr", "Mass", 7, "grain", "kilogram"),
    ("18 °F", "TemperatureDifference", 18, "delta_degree_Fahrenheit", "kelvin"),
    ("0.25 Btu·in/(h·ft²·°F)", "Conductivity", 0.25, "Btu*inch/(hour*foot**2*delta_degF)", "watt/(meter*kelvin)"),
    ("0.02 Btu/(h·ft·°F)", "Conductivity", 0.02, "Btu/(hour*foot*delta_degF)", "watt/(meter*kelvin)"),
    ("R-31", "Resistance", 31, "foot**2*hour*delta_degF/Btu", "meter**2*kelvin/watt"),
    ("0.03 Btu/(h·ft²·°F)", "Transmittance", 0.03, "Btu/(hour*foot**2*delta_degF)", "watt/(meter**2*kelvin)"),
    ("0.02 Btu/(h·°F)", "PointTransmittance", 0.02, "Btu/(hour*delta_degF)", "watt/kelvin"),
    ("3.5 lb/ft³", "Density", 3.5, "pound/foot**3", "kilogram/meter**3"),
    ("2.5 lb/ft²", "ArealDensity", 2.5, "pound/foot**2", "kilogram/meter**2"),
    ("9 oz/yd²", "ArealDensity", 9, "ounce/yard**2", "kilogram/meter**2"),
    ("0.2 Btu/(lb·°F)", "SpecificHeat", 0.2, "Btu/(pound*delta_degF)", "joule/(kilogram*kelvin)"),
    ("10 Btu/(ft²·°F)", "ArealHeatCapacity", 10, "Btu/(foot**2*delta_degF)", "joule/(meter**2*kelvin)"),
    ("1 perm", "Permeance", 1, "grain/(hour*foot**2*inch_Hg)", "kilogram/(meter**2*second*pascal)"),
    ("2 perm·in", "Permeability", 2, "grain*inch/(hour*foot**2*inch_Hg)", "kilogram/(meter*second*pascal)"),
    ("12000 Btu/h", "Power", 12000, "Btu/hour", "watt"),
    ("2 tons of cooling", "Power", 2, "refrigeration_ton", "watt"),
    ("1.5 hp", "Power", 1.5, "horsepower", "watt"),
    ("3 kWh", "Energy", 3, "kilowatt_hour", "joule"),
    ("3 kBtu", "Energy", 3, "kiloBtu", "joule"),
    ("2 therms", "Energy", 2, "US_therm", "joule"),
    ("5 kcal", "Energy", 5000, "international_calorie", "joule"),
    ("10 Btu/(h·ft²)", "PowerPerArea", 10, "Btu/(hour*foot**2)", "watt/meter**2"),
    ("4.75 kBtu/ft²", "EnergyPerArea", 4.75, "kiloBtu/foot**2", "joule/meter**2"),
    ("0.2 in. w.g.", "Pressure", 5.08, "millimeter_H2O", "pascal"),
    ("29.92 inHg", "Pressure", 29.92, "inch_Hg", "pascal"),
    ("760 mmHg", "Pressure", 760, "millimeter_Hg", "pascal"),
    ("2 psi", "Pressure", 2, "psi", "pascal"),
    ("20 psf", "Pressure", 20, "force_pound/foot**2", "pascal"),
    ("1.2 atm", "Pressure", 1.2, "atmosphere", "pascal"),
    ("15 mbar", "Pressure", 15, "millibar", "pascal"),
    ("3 d", "Time", 3, "day", "second"),
    ("2 wk", "Time", 2, "week", "second"),
    ("0.5 rad", "Angle", 0.5, "radian", "degree"),
    ("5 mph", "Speed", 5, "mile/hour", "meter/second"),
    ("10 kn", "Speed", 10, "knot", "meter/second"),
    ("700 fpm", "Speed", 700, "foot/minute", "meter/second"),
    ("0.7 W/cfm", "SpecificFanPower", 0.7, "watt/(foot**3/minute)", "watt*hour/meter**3"),
    ("0.25 cfm50/ft²", "AirPermeability", 0.25, "foot**3/minute/foot**2", "meter**3/hour/meter**2"),
    ("0.5 cfm/ft", "FlowPerLength", 0.5, "foot**3/minute/foot", "meter**3/second/meter"),
    ("3 kg/(m²·h^0.5)", "AbsorptionCoefficient", 3, "kilogram/(meter**2*hour**0.5)", "kilogram/(meter**2*second**0.5)"),
    ("0.9 lb/kWh", "EmissionFactor", 0.9, "pound/kilowatt_hour", "kilogram/kilowatt_hour"),
]

TEMPERATURES = [("70 °F", 70, "degree_Fahrenheit"), ("-40 °F", -40, "degree_Fahrenheit"), ("294.15 K", 294.15, "kelvin")]



def tolerance(unit):
    return "2e-7" if "Btu" in unit or "refrigeration" in unit else "1e-12"


print(f"# Made by make_pint_factors.py with pint {pint.__version__}; independent of our unit table.")
print("text,dimension,value,tolerance,pint")
for text, dimension, figure, unit, canonical in ROWS:
    value = Q(figure, unit).to(canonical).magnitude
    print(f"{text},{dimension},{value!r},{tolerance(unit)},{figure} {unit} in {canonical}")
for text, figure, unit in TEMPERATURES:
    value = Q(figure, unit).to("degree_Celsius").magnitude
    print(f"{text},Temperature,{value!r},1e-12,{figure} {unit} in degree_Celsius")
