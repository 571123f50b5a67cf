"""A coater of which every number is ordinary."""

ORDINARY = {
    "volume": "5 L", "pump_speed": "0.8 L/s", "usual_base": "0.03 mbar",
    "usual_pressure": "0.1 mbar", "usual_current": "12 mA", "usual_time": "6 min",
    "isolation_valve": "yes", "gauge_side": "chamber", "head": "diode", "target": "gold",
    "gauge_kind": "heat_loss", "gauge_gas": "air", "process_gas": "argon",
    "hose_diameter": "25 mm", "hose_length": "1 m", "target_radius": "25 mm", "distance": "50 mm",
    "usual_voltage": "900 V", "usual_rise": "0.1 mbar/min",
    "cylinder": "10 L", "fill_pressure": "200 bar", "room": "60 m3",
}  # fmt: skip
