"""What one may want to know, and the line that works it out."""

NEEDS: dict[str, dict[str, str]] = {
    "Pumping": {
        "How long should pumping take?": "pump-down --volume 5L --speed 0.7L/s --to 0.1mbar",
        "What should the gauge show by now?":
            "pressure-after --volume 5L --speed 0.7L/s --seconds 60",
        "How much pump does it take?": "speed-needed --volume 5L --to 1mbar --seconds 60",
        "Where does it end?": "ultimate --speed 0.7L/s --gas-load 0.01mbar.L/s",
        "What reaches the chamber of the pump's speed?":
            "effective-speed --volume 5L --rise 0.8mbar/min --base 0.1mbar",
        "How much water vapour can the pump take?":
            "ballast --ballast-flow 0.07L/s --speed 0.7L/s --pump-temperature 60degC",
        "What does the hose leave of the pump?":
            "conductance --diameter 16mm --length 1m --pressure 0.1mbar --pump-speed 0.7L/s",
        "What does a thin hole let through?": "opening --diameter 10mm --pressure 0.001mbar",
        "What do hose, valve and trap together let through?": "in-series 10L/s 5L/s",
    },
    "Leaks and gas from inside": {
        "How much gas comes in with the valve shut?":
            "leak-rate --volume 5L --from 0.1mbar --to 0.9mbar --seconds 60",
        "The same, if it got warmer meanwhile?":
            "molar-leak-rate --volume 5L --from 0.1mbar --to 0.9mbar --seconds 60 "
            "--to-temperature 25degC",
        "How would a leak, walls or a pocket let it rise?":
            "rise --cause leak --from 0.1mbar --seconds 60 --flow 0.07mbar.L/s",
        "How large a leak can I live with?": "leak-allowed --pressure 0.1mbar --speed 0.7L/s",
        "What is that leak in helium?": "leak-convert --leak 0.001mbar.L/s",
        "How much do walls or seals give off?":
            "outgassing --material metal --area 0.2m2 --after 1h",
        "How much passes through a sound seal?": "permeation --material FKM --length 50cm",
        "At what pressure does water or a solvent boil?": "vapour --substance acetone",
    },
    "Argon and the glow": {
        "How much air do flushes leave?": "purge --low 0.2Torr --high 0.35Torr --cycles 3",
        "How many flushes does it take?": "purge-cycles --low 0.2Torr --high 1Torr --target 0.01",
        "How much air does a leak keep in the argon?":
            "air-share --leak 0.1sccm --argon-flow 10sccm",
        "What is the true pressure in argon?": "gauge --gas argon --indicated 0.05mbar",
        "Does it strike at this pressure?": "breakdown --pressure 0.1mbar --gap 50mm",
        "What current at another pressure?":
            "glow --voltage 800V --current 12mA --pressure 0.08mbar --new-pressure 0.1mbar",
        "How thick is the dark space?":
            "dark-space --seen 10mm --pressure 0.1mbar --new-pressure 0.05mbar",
        "How far does an atom fly?": "mean-free-path --pressure 0.1mbar --size 50mm",
    },
    "Coats": {
        "How long must I coat?":
            "time-for --metal gold --thickness 10nm --current 10mA --calibration 1nm/mA/min",
        "How thick did it become?":
            "thickness --metal gold --current 10mA --voltage 1kV --time 1min --distance 50mm",
        "And with another metal?": "other-metal --to platinum --seconds 60",
        "What does the monitor's reading mean?":
            "monitor --shown 10nm --set-to gold --metal chromium --tooling 0.9",
        "How even is it over the stage?":
            "uniformity --target-radius 28.5mm --distance 50mm --offset 12.5mm",
        "What do slopes, walls and grooves get?": "shaded --distance 50mm",
        "Does the metal get through the gas?": "arrival --metal gold --pressure 0.1Torr",
        "How warm does the specimen get?": "heat --metal gold --thickness 10nm --time 1min",
        "What does the coat weigh?": "coat-mass --metal gold --thickness 1nm",
        "How much target is used up?":
            "target-loss --metal gold --current 1mA --time 1h --voltage 2kV",
        "How many atoms does an ion knock out?": "yield --metal gold --energy 1keV",
        "Does the coat conduct?": "sheet-resistance --metal gold --thickness 10nm",
    },
    "The beam and charging": {
        "How deep do the beam's electrons get?": "range --material copper --energy 30keV",
        "Which way does it charge?": "charging --material pmma --energy 5keV",
    },
    "Safety": {
        "Does a cylinder make the room short of oxygen?":
            "oxygen --cylinder 10L --fill-pressure 200bar --room 40m3",
        "And if the room is aired?": "ventilation --leak 10L/min --fresh-air 100m3/h --room 40m3",
        "How hard does the air press on the lid?": "lid-force --diameter 150mm",
    },
    "Units": {"What is that in another unit?": "convert 0.2Torr Pa"},
}  # fmt: skip
