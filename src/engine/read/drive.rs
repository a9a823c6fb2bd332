//! The chains of an engine file as a tree from the crank to every cam.

use std::collections::BTreeMap;

use toml::Spanned;

use super::{CRANK, Checked, Place};
use crate::engine::Cam;
use crate::engine::drive::{Chain, Drive, Ratio, Sprocket};
use crate::engine::file::{ChainFile, OrderFile, SprocketFile};

/// Builds the drive in an order in which every driver already turns.
pub(super) fn drive(place: &Place, parsed: &[Spanned<ChainFile>], cams: &[Cam]) -> Checked<Drive> {
    let mut ratios: BTreeMap<String, Ratio> = BTreeMap::from([(CRANK.to_owned(), Ratio::ONE)]);
    let mut waiting: Vec<&Spanned<ChainFile>> = parsed.iter().collect();
    let mut chains = Vec::new();
    while !waiting.is_empty() {
        let shaft_of = |on: &str| shaft_name(on, cams);
        let ready = waiting
            .iter()
            .position(|chain| ratios.contains_key(&shaft_of(&chain.get_ref().driver.on)));
        let Some(ready) = ready else {
            let chain = waiting[0];
            let what = format!("nothing drives \"{}\" from the crank", chain.get_ref().driver.on);
            let key = format!("chain \"{}\".driver", chain.get_ref().name);
            return place.refuse(
                chain.span(),
                &key,
                what,
                "Drive that shaft by another [[chain]], once.",
            );
        };
        chains.push(chain(place, waiting.remove(ready), cams, &mut ratios)?);
    }
    let drive = Drive { chains };
    for cam in cams.iter().filter(|_| !parsed.is_empty()) {
        let span = parsed[0].span();
        match ratios.get(&cam.name) {
            None => {
                let what = format!("no chain drives the cam \"{}\"", cam.name);
                return place.refuse(
                    span,
                    "chain",
                    what,
                    "Drive every cam, or give no [[chain]] at all.",
                );
            }
            Some(&ratio) if ratio != Ratio::HALF => {
                let what = format!(
                    "the cam \"{}\" would turn at {ratio} of crank speed, not 1/2",
                    cam.name
                );
                return place.refuse(
                    span,
                    "chain",
                    what,
                    "Check the tooth counts from the crank to this cam.",
                );
            }
            Some(_) => {}
        }
    }
    if let Some((chain, file)) = drive.chains.iter().find_map(|chain| {
        let useless = !cams.iter().any(|cam| {
            drive.path_to(&cam.name).iter().any(|&index| drive.chains[index].name == chain.name)
        });
        let file = parsed.iter().find(|file| file.get_ref().name == chain.name)?;
        useless.then_some((chain, file))
    }) {
        let key = format!("chain \"{}\"", chain.name);
        let what = "it drives no cam of this file".into();
        return place.refuse(file.span(), &key, what, "Remove it, or add the cam it drives.");
    }
    Ok(drive)
}

/// The name a shaft goes by: a cam's own spelling, "crank", or the text itself.
fn shaft_name(on: &str, cams: &[Cam]) -> String {
    let on = on.trim();
    if on.eq_ignore_ascii_case(CRANK) {
        return CRANK.to_owned();
    }
    cams.iter()
        .find(|cam| cam.name.eq_ignore_ascii_case(on))
        .map_or_else(|| on.to_owned(), |cam| cam.name.clone())
}

fn chain(
    place: &Place,
    parsed: &Spanned<ChainFile>,
    cams: &[Cam],
    ratios: &mut BTreeMap<String, Ratio>,
) -> Checked<Chain> {
    let (span, chain) = (parsed.span(), parsed.get_ref());
    let key = |end: &str| format!("chain \"{}\".{end}", chain.name);
    let all_teeth = [&chain.driver].into_iter().chain(&chain.driven);
    if let Some(bad) = all_teeth.clone().find(|sprocket| !(5..=1000).contains(&sprocket.teeth)) {
        let what = format!("{} teeth on \"{}\" is outside 5 to 1000", bad.teeth, bad.on);
        return place.refuse(span, &key("teeth"), what, "Count the teeth of that sprocket.");
    }
    if chain.driven.is_empty() {
        return place.refuse(
            span,
            &key("driven"),
            "it drives nothing".into(),
            "List what it drives.",
        );
    }
    let sprocket =
        |file: &SprocketFile| Sprocket { on: shaft_name(&file.on, cams), teeth: file.teeth };
    let driver = sprocket(&chain.driver);
    let driver_ratio = ratios[&driver.on];
    let driven: Vec<Sprocket> = chain.driven.iter().map(sprocket).collect();
    for sprocket in &driven {
        let ratio = driver_ratio.geared(driver.teeth, sprocket.teeth);
        let Some(ratio) = ratio else {
            return place.refuse(
                span,
                &key("teeth"),
                "the ratio is out of range".into(),
                "Check the tooth counts.",
            );
        };
        if ratios.insert(sprocket.on.clone(), ratio).is_some() {
            let what = format!("\"{}\" is driven twice, or is the crank", sprocket.on);
            return place.refuse(span, &key("driven"), what, "Drive every shaft once.");
        }
    }
    let pulled_order = chain.order == Some(OrderFile::Pulled);
    Ok(Chain {
        name: chain.name.clone(),
        kind: chain.kind,
        driver,
        driver_ratio,
        driven,
        pulled_order,
    })
}
