use crate::practice::*; use crate::bench::Random; use camwitness::practice::ExtraLead; use camwitness::compression::*;
use rayon::prelude::*;
#[test]
fn explore() {
    let n: u64 = std::env::var("N").unwrap().parse().unwrap();
    let from: u64 = std::env::var("FROM").unwrap_or("300000".into()).parse().unwrap();
    let settings: Vec<u64> = std::env::var("SET").unwrap_or("0".into()).split(',').map(|s| s.parse().unwrap()).collect();
    let made: Vec<_> = (from..from+n).into_par_iter().map(|seed| {
        let mut random = Random(seed); let count=[6,8][(seed%2) as usize]; let e=engine(count);
        let weak = 0.01 * 40_f64.powf(random.uniform());
        let which = 1 + (random.uniform() * count as f64) as u32;
        let p = made(&e, &[format!("weak-cylinder:{which}:{}", 1.0-weak)], seed, vec![ExtraLead::Starter]);
        let mut lean = p.clone(); lean.capture.channels.clear();
        (seed, count, weak, which, e, p.capture, lean.truth)
    }).collect();
    for set in settings {
        camwitness::compression::EXPLORE.store(set, std::sync::atomic::Ordering::SeqCst);
        for source in [Source::StarterCurrent, Source::CrankSpeed] {
        let rows: Vec<(String, Vec<(f64,bool,f64,f64)>)> = made.par_iter().map(|(seed,count,weak,which,e,cap,truth)| {
            let cap = if source==Source::CrankSpeed { without(cap,&["starter"]) } else { cap.clone() };
            let o = measured(&cap, e); let f = o.measured.unwrap();
            let mut errs: Vec<(f64,bool,f64,f64)> = f.cylinders.iter().map(|r| { let t=truth.cylinders.iter().find(|c| Some(c.cylinder)==r.cylinder).unwrap().relative; (r.relative-t, r.ci95.0<=t&&t<=r.ci95.1, 0.5*(r.ci95.1-r.ci95.0), *weak)}).collect();
            errs.rotate_left((*which-1) as usize);
            (format!("{set} {} {seed} n {count} weak {weak:.3} r2 {:.3} rpm {:.0} {}", source.word(), f.explained, o.steady.unwrap().rpm.0, errs.iter().map(|e| format!("{:+.3}",e.0)).collect::<Vec<_>>().join(" ")), errs)
        }).collect();
        for (l,_) in &rows { println!("{l}"); }
        let all: Vec<&(f64,bool,f64,f64)> = rows.iter().flat_map(|r| &r.1).collect();
        let lim = if source==Source::CrankSpeed {0.06} else {0.03};
        let near = all.iter().filter(|e| e.0.abs()<=lim).count(); let inside=all.iter().filter(|e| e.1).count();
        let rms=(all.iter().map(|e| e.0*e.0).sum::<f64>()/all.len() as f64).sqrt();
        println!("SUMMARY {set} {} near {near}/{} = {:.3} inside {:.3} rms {rms:.4} width {:.4}", source.word(), all.len(), near as f64/all.len() as f64, inside as f64/all.len() as f64, all.iter().map(|e| e.2).sum::<f64>()/all.len() as f64);
        }
    }
}

#[test]
fn one() {
    for preset in [camwitness::practice::Preset::Clean, camwitness::practice::Preset::Workshop] {
    for seed in [300021u64, 300025, 300014] {
        let mut random = Random(seed); let count=[6,8][(seed%2) as usize]; let e=engine(count);
        let weak = 0.01 * 40_f64.powf(random.uniform());
        let which = 1 + (random.uniform() * count as f64) as u32;
        let mut sc = camwitness::practice::Scenario::new(e.clone()); sc.faults=vec![format!("weak-cylinder:{which}:{}", 1.0-weak).parse().unwrap()];
        sc.seed=seed; sc.seconds=6.0; sc.preset=preset;
        let p = camwitness::practice::generate(&sc).unwrap();
        for drop in [&[][..], &["starter"][..]] {
        let o = measured(&without(&p.capture,drop), &e); let f=o.measured.unwrap();
        let mut errs: Vec<f64> = f.cylinders.iter().map(|r| { let t=p.truth.cylinders.iter().find(|c| Some(c.cylinder)==r.cylinder).unwrap().relative; r.relative-t}).collect();
        errs.rotate_left((which-1) as usize);
        println!("{preset:?} {seed} which {which} n {count} weak {weak:.3} {} r2 {:.4} tdc {:?} {}", f.source.word(), f.explained, o.tdc.unwrap().off, errs.iter().map(|e| format!("{e:+.3}")).collect::<Vec<_>>().join(" "));
        }
    }}
}
