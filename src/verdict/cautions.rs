//! The cautions printed with every result (docs/sources.md, "Cautions", *common practice*).

/// One sentence or two each, in the order in which they matter at the car.
pub const CAUTIONS: [&str; 9] = [
    "Do not keep cranking or run an engine whose timing may have jumped: valves can meet pistons.",
    "Transmission in park or neutral, brake set, wheels chocked.",
    "Disable fuel or ignition by the maker's procedure before a cranking test, so that the engine cannot start.",
    "Keep clear of belts, fans and pulleys. Secure hair, sleeves and leads.",
    "Ignition secondary voltage is dangerous. Use insulated probes and stay off the secondary side.",
    "Exhaust and cooling parts may be hot.",
    "Hybrid and electric drive: high-voltage procedures and trained staff only.",
    "Respect the starter's duty limits: let it cool between tests, and support the battery with a charger.",
    "The maker's service information and local law come first. This result supports a qualified technician's judgement and does not replace it.",
];
