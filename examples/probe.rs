//! throwaway
use camwitness::*;
fn main() {
    let a: Vec<String> = std::env::args().collect();
    let engine = engine::Engine::read(a[1].as_ref()).unwrap();
    let cap = capture::read(a[2].as_ref(), &capture::ReadOptions::default()).unwrap();
    println!("{} rows {:?}", cap.rows(), cap.kind);
    let leads: Vec<_> = a[3..].iter().map(|l| l.parse().unwrap()).collect();
    match analysis::analyse(&cap, &engine, &leads) {
        Err(e) => println!("ERR {e}"),
        Ok(r) => {
            let c = &r.crank;
            println!(
                "crank conf {} edge {:?} pol {:?} assumed {:?} seen {} missed {} extra {} rpm {:?} {:?} {:?} {:?} used {:?} span {:?} turned {:?}",
                c.confidence,
                c.marking_edge,
                c.polarity,
                c.edge_assumed,
                c.teeth_seen,
                c.missed,
                c.extra,
                c.rpm_mean,
                c.rpm_min,
                c.rpm_max,
                c.condition,
                c.seconds_used,
                c.angle.span(),
                c.angle.turned_span()
            );
            for l in &r.leads {
                println!("{l:?}");
            }
            for cam in &r.cams {
                let m = &cam.measured;
                println!(
                    "cam {} {:?} pos {:?} ±{:?} sd {:?} mod {:?} missed {} extra {} fit {} dev {:?} teeth {:?} left {:?}",
                    m.cam,
                    m.polarity,
                    m.position,
                    m.half_width95,
                    m.cycle_sd,
                    cam.known_modulo,
                    m.missed,
                    m.extra,
                    m.fit,
                    cam.deviation,
                    cam.nearest_teeth,
                    cam.left_over
                );
                for e in &m.edges {
                    println!("   {:?}", e);
                }
                for e in &m.cycles {
                    println!("     {:?}", e);
                }
            }
            println!("{:?}", r.bank_differences);
        }
    }
}
