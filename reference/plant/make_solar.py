"""Writes solar_electricity.csv: a general-purpose solar library beside our laws. Needs pvlib (numbers made with 0.16.1).

Run: python make_solar.py > solar_electricity.csv
"""
import pvlib

MODULE = dict(light=10.35, saturation=8.0e-11, series=0.30, shunt=450.0, ideality=1.92, alpha=0.0050)
INVERTER = dict(Paco=5000.0, Pdco=5181.347150259068, Vdco=400.0, Pso=30.0, C0=-3.0e-6, C1=0.0, C2=0.0, C3=0.0, Pnt=2.5)

print("# pvlib %s. Five-parameter module (De Soto), maximum power; Faiman cell temperature; grid inverter of King" % pvlib.__version__)
print("# and others without voltage terms; incidence modifier 1 - b(1/cos - 1), b = 0.05. Module and inverter invented.")
print("quantity,a,b,c,value")
for sun in (50.0, 200.0, 500.0, 800.0, 1000.0, 1100.0):
    for cell in (-10.0, 25.0, 60.0):
        il, io, rs, rsh, nnsvth = pvlib.pvsystem.calcparams_desoto(
            sun, cell, MODULE["alpha"], MODULE["ideality"], MODULE["light"], MODULE["saturation"], MODULE["shunt"],
            MODULE["series"])
        power = pvlib.pvsystem.singlediode(il, io, rs, rsh, nnsvth)["p_mp"]
        print(f"module,{sun},{cell},,{float(power)!r}")
for sun, air, wind in ((800.0, 20.0, 1.0), (1000.0, 35.0, 0.0), (300.0, -10.0, 6.0)):
    print(f"cell,{sun},{air},{wind},{float(pvlib.temperature.faiman(sun, air, wind))!r}")
for dc in (10.0, 100.0, 500.0, 2500.0, 5000.0, 6000.0):
    print(f"inverter,{dc},,,{float(pvlib.inverter.sandia(400.0, dc, INVERTER))!r}")
for angle in (0.0, 30.0, 60.0, 75.0, 85.0):
    print(f"incidence,{angle},,,{float(pvlib.iam.ashrae(angle, 0.05))!r}")
