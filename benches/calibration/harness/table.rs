//! The tables as Markdown.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use camwitness::verdict::State;

use super::case::{Class, Stock};
use super::engines::{Known, Layout};
use super::run::{Outcome, Price, Told};
use super::sums::{Bin, Counts, answers, bins, weighted_right, wrong};

/// Everything counted, as Markdown.
pub fn markdown(outcomes: &[Outcome]) -> String {
    let (two, outcomes): (Vec<Outcome>, Vec<Outcome>) =
        outcomes.iter().cloned().partition(|one| one.stock == Stock::Together);
    let mut text = one_fault(&outcomes);
    two_faults(&mut text, &two);
    text
}

fn one_fault(outcomes: &[Outcome]) -> String {
    let mut text = String::new();
    goals(&mut text, outcomes);
    three_questions(&mut text, outcomes);
    undecided(&mut text, outcomes);
    by_class(&mut text, outcomes);
    by(&mut text, outcomes, "reference", &Known::ALL, Known::word, |one| one.known);
    by(&mut text, outcomes, "layout", &Layout::ALL, Layout::word, |one| one.layout);
    let presets: Vec<String> = vec!["Clean".into(), "Workshop".into(), "Nasty".into()];
    by(&mut text, outcomes, "dirt", &presets, |one| one, |one| format!("{:?}", one.preset));
    let mut wheels: Vec<&str> = outcomes.iter().map(|one| one.crank_wheel).collect();
    wheels.sort_unstable();
    wheels.dedup();
    by(&mut text, outcomes, "crank wheel", &wheels, |one| one, |one| one.crank_wheel);
    reliability(&mut text, &bins(outcomes));
    untellable(&mut text, outcomes);
    text.push_str("## Every wrong finding\n\n");
    errors(&mut text, outcomes);
    refusals(&mut text, outcomes);
    text
}

/// Two faults at once: no goal is set, and no odds are stated for most of these pairs.
fn two_faults(text: &mut String, outcomes: &[Outcome]) {
    if outcomes.is_empty() {
        return;
    }
    text.push_str("## Two faults at once\n\n");
    head(text, &["what", "captures"]);
    let counts = Counts::of(outcomes.iter());
    let mut row = |what: &str, of: String| line(text, &[what.into(), of]);
    row("captures", counts.captures.to_string());
    row("right among findings stated at 0.99 or more", share(counts.right, counts.stated));
    row("`jumped` where no chain skipped", counts.false_jumped.to_string());
    row("`in_time` among jumped", counts.false_in_time.to_string());
    let off = |told: &Told| told.state == State::OffNotJumped && told.truth == 1;
    let off = wrong(outcomes).iter().filter(|(_, told)| off(told)).count();
    row("`off_not_jumped` among jumped", off.to_string());
    row("another place or number of teeth among rightly `jumped`", counts.wrong_place.to_string());
    row("`cannot_tell`", share(counts.cannot_tell, counts.captures));
    text.push_str("\nEvery wrong finding among them:\n\n");
    errors(text, outcomes);
}

/// What doubting the description costs in findings not made, with the places typed and confirmed by
/// a known-good.
pub fn prices(typed: &[Outcome], confirmed: &[Outcome]) -> String {
    let mut text = String::from("## What doubting the description costs\n\n");
    text.push_str(
        "Findings that the same odds would make with every doubt of the description and the leads left out of them, in both \
         stocks of one fault. Every description here is right. The goal is under 1 % of the cases that can be told.\n\n",
    );
    head(&mut text, &["what", "places typed", "places confirmed"]);
    let of = |outcomes: &[Outcome], tellable: bool, price: Option<Price>| {
        let one = outcomes.iter().filter(|one| one.stock != Stock::Together);
        let told = one.filter_map(|one| one.told.as_ref().ok());
        let wanted = told.filter(|told| !tellable || told.untellable.is_none());
        wanted.filter(|told| price.is_none_or(|price| told.price == price)).count()
    };
    for (which, tellable) in [("can be told", true), ("all", false)] {
        for (what, price) in
            [("not said for doubt", Price::Doubt), ("for a contradiction", Price::Contradiction)]
        {
            let cell = |outcomes: &[Outcome]| {
                share(of(outcomes, tellable, Some(price)), of(outcomes, tellable, None))
            };
            line(&mut text, &[format!("{which}: {what}"), cell(typed), cell(confirmed)]);
        }
    }
    let wrong = |outcomes: &[Outcome]| {
        let one: Vec<Outcome> =
            outcomes.iter().filter(|one| one.stock != Stock::Together).cloned().collect();
        let counts = Counts::of(one.iter());
        format!("{} of {}", wrong(&one).len(), counts.stated)
    };
    line(&mut text, &["wrong findings".into(), wrong(typed), wrong(confirmed)]);
    text.push('\n');
    text
}

fn line(text: &mut String, cells: &[String]) {
    let _ = writeln!(text, "| {} |", cells.join(" | "));
}

fn head(text: &mut String, cells: &[&str]) {
    line(text, &cells.iter().map(ToString::to_string).collect::<Vec<_>>());
    line(text, &cells.iter().map(|_| "---".to_owned()).collect::<Vec<_>>());
}

/// "12 of 340 (3.5 %)".
fn share(part: usize, whole: usize) -> String {
    if whole == 0 {
        return "none".into();
    }
    format!("{part} of {whole} ({:.1} %)", 100.0 * part as f64 / whole as f64)
}

fn stock(outcomes: &[Outcome], stock: Stock) -> Counts {
    Counts::of(outcomes.iter().filter(|one| one.stock == stock))
}

fn goals(text: &mut String, outcomes: &[Outcome]) {
    text.push_str("## Goals\n\n");
    head(text, &["what", "goal", "as in the trade", "faults alike", "other constants"]);
    let all = [Stock::Trade, Stock::Alike, Stock::Elsewhere].map(|of| stock(outcomes, of));
    let mut row = |what: &str, goal: &str, of: &dyn Fn(&Counts) -> String| {
        line(text, &[what.into(), goal.into(), of(&all[0]), of(&all[1]), of(&all[2])]);
    };
    row("captures", "", &|c| c.captures.to_string());
    row("right among findings stated at 0.99 or more", "99.5 %", &|c| share(c.right, c.stated));
    let weighted = |of: Stock| {
        let right = weighted_right(outcomes.iter().filter(|one| one.stock == of));
        right.map_or("none".into(), |(share, error)| {
            format!("{:.2} % ± {:.2}", 100.0 * share, 196.0 * error)
        })
    };
    line(
        text,
        &[
            "the same, every capture counted as often as the trade sees it (± 95 %)".into(),
            "99.5 %".into(),
            weighted(Stock::Trade),
            weighted(Stock::Alike),
            weighted(Stock::Elsewhere),
        ],
    );
    let mut row = |what: &str, goal: &str, of: &dyn Fn(&Counts) -> String| {
        line(text, &[what.into(), goal.into(), of(&all[0]), of(&all[1]), of(&all[2])]);
    };
    row("`jumped` among sound, worn and phaser-only engines", "0", &|c| {
        c.false_jumped_sound.to_string()
    });
    row("`jumped` with any other fault but a skip", "", &|c| {
        (c.false_jumped - c.false_jumped_sound).to_string()
    });
    row("`in_time` of every cam among jumped", "0", &|c| c.false_in_time.to_string());
    row("right sprocket and teeth among rightly `jumped`", "99 %", &|c| {
        share(c.truly_jumped - c.wrong_place, c.truly_jumped)
    });
    row("`cannot_tell` among those that can be told", "under 5 %", &|c| {
        share(c.tellable_open, c.tellable)
    });
    row("... of these, open to perfect readings as well", "", &|c| {
        share(c.open_by_the_odds, c.tellable_open)
    });
    row("`cannot_tell` among all", "", &|c| share(c.cannot_tell, c.captures));
    row("none of the three questions decided, of those that can be told", "under 10 %", &|c| {
        share(c.tellable_undecided, c.tellable)
    });
    row("none of the three questions decided, of all", "under 25 %", &|c| {
        share(c.undecided, c.captures)
    });
    row("refused: no crank angle", "", &|c| c.refused.to_string());
    text.push('\n');
}

/// Each of the three questions by itself, stated at 0.99 or more, yes or no.
fn three_questions(text: &mut String, outcomes: &[Outcome]) {
    text.push_str(
        "## The three questions\n\nStated at 0.99 or more; the goal for each is 99.5 % right.\n\n",
    );
    head(text, &["question", "stock", "yes, rightly", "no, rightly", "left open"]);
    for stock in [Stock::Trade, Stock::Alike, Stock::Elsewhere] {
        let counts = answers(outcomes.iter().filter(|one| one.stock == stock));
        let names = ["skipped", "drive due", "recorded cams in place"];
        where_it_skipped(text, outcomes, stock);
        for (name, count) in names.iter().zip(counts) {
            let open = count.asked - count.said_yes - count.said_no;
            line(
                text,
                &[
                    (*name).into(),
                    format!("{stock:?}"),
                    share(count.rightly_yes, count.said_yes),
                    share(count.rightly_no, count.said_no),
                    share(open, count.asked),
                ],
            );
        }
    }
    text.push('\n');
}

/// Where a chain skipped, of those said to have skipped: the place and teeth that were named.
fn where_it_skipped(text: &mut String, outcomes: &[Outcome], stock: Stock) {
    let told = outcomes.iter().filter(|one| one.stock == stock);
    let told = told.filter_map(|one| one.told.as_ref().ok());
    let jumped: Vec<&Told> = told.filter(|told| told.state == State::Jumped).collect();
    let named = jumped.iter().filter_map(|told| told.place);
    let right = named.clone().filter(|right| *right).count();
    let open = jumped.len() - named.clone().count();
    line(
        text,
        &[
            "where it skipped".into(),
            format!("{stock:?}"),
            share(right, named.count()),
            String::new(),
            share(open, jumped.len()),
        ],
    );
}

/// None of the three questions decided, by what places are known.
fn undecided(text: &mut String, outcomes: &[Outcome]) {
    text.push_str("None of the three decided, by reference:\n\n");
    head(text, &["reference", "as in the trade", "faults alike", "other constants"]);
    for known in Known::ALL {
        let of = |stock: Stock| {
            let one = outcomes.iter().filter(|one| one.stock == stock && one.known == known);
            let counts = Counts::of(one);
            share(counts.undecided, counts.captures)
        };
        let cells = [Stock::Trade, Stock::Alike, Stock::Elsewhere].map(of);
        line(text, &[[known.word().to_owned()].as_slice(), cells.as_slice()].concat());
    }
    text.push('\n');
}

const COUNTED: [&str; 10] = [
    "captures",
    "in time",
    "jumped",
    "drive due",
    "off, not jumped",
    "cannot tell",
    "refused",
    "wrong",
    "can be told",
    "of these left open",
];

fn counted(name: &str, counts: &Counts) -> Vec<String> {
    let found = counts.in_time + counts.jumped + counts.drive_due + counts.off_not_jumped;
    let numbers = [
        counts.captures,
        counts.in_time,
        counts.jumped,
        counts.drive_due,
        counts.off_not_jumped,
        counts.cannot_tell,
        counts.refused,
        found - counts.right,
        counts.tellable,
        counts.tellable_open,
    ];
    [name.to_owned()].into_iter().chain(numbers.map(|number| number.to_string())).collect()
}

fn by_class(text: &mut String, outcomes: &[Outcome]) {
    by(text, outcomes, "what was done", &Class::ALL, Class::word, |one| one.class);
}

/// One line per value of something, both stocks together.
fn by<T: PartialEq + Clone, S: AsRef<str>>(
    text: &mut String,
    outcomes: &[Outcome],
    what: &str,
    values: &[T],
    word: impl Fn(T) -> S,
    of: impl Fn(&Outcome) -> T,
) {
    let _ = writeln!(text, "## By {what}\n");
    let cells: Vec<&str> = [what].into_iter().chain(COUNTED).collect();
    head(text, &cells);
    for value in values {
        let counts = Counts::of(outcomes.iter().filter(|one| of(one) == *value));
        line(text, &counted(word(value.clone()).as_ref(), &counts));
    }
    text.push('\n');
}

fn reliability(text: &mut String, bins: &[Bin; 10]) {
    text.push_str(
        "## Stated against observed odds\n\nThe captures drawn as in the trade. Each makes three claims: in time, a chain \
         skipped, something else. \"Interval\" is where nineteen in twenty counts fall if the odds are right (normal approximation).\n\n",
    );
    head(text, &["stated", "claims", "mean stated", "observed", "interval"]);
    for (tenth, bin) in bins.iter().enumerate() {
        let range = format!("{:.1} to {:.1}", tenth as f64 / 10.0, (tenth + 1) as f64 / 10.0);
        if bin.claims == 0 {
            line(text, &[range, "0".into(), String::new(), String::new(), String::new()]);
            continue;
        }
        let n = bin.claims as f64;
        let mean = bin.stated / n;
        let half = 1.96 * (mean * (1.0 - mean) / n).sqrt() + 0.5 / n;
        let interval = format!("{:.3} to {:.3}", (mean - half).max(0.0), (mean + half).min(1.0));
        line(
            text,
            &[
                range,
                bin.claims.to_string(),
                format!("{mean:.3}"),
                format!("{:.3}", bin.true_ones as f64 / n),
                interval,
            ],
        );
    }
    text.push('\n');
}

fn untellable(text: &mut String, outcomes: &[Outcome]) {
    text.push_str("## What could not be told in principle\n\n");
    head(text, &["why", "captures", "found all the same", "of these wrong"]);
    let mut rows: BTreeMap<&str, (usize, Counts)> = BTreeMap::new();
    for one in outcomes {
        let Some(why) = one.told.as_ref().ok().and_then(|told| told.untellable) else { continue };
        let row = rows.entry(why).or_default();
        row.0 += 1;
        let alone = Counts::of(std::iter::once(one));
        row.1.stated += alone.stated;
        row.1.right += alone.right;
    }
    for (why, (captures, counts)) in rows {
        let wrong = counts.stated - counts.right;
        line(
            text,
            &[why.into(), captures.to_string(), counts.stated.to_string(), wrong.to_string()],
        );
    }
    text.push('\n');
}

fn errors(text: &mut String, outcomes: &[Outcome]) {
    let wrong = wrong(outcomes);
    if wrong.is_empty() {
        text.push_str("None.\n\n");
        return;
    }
    head(text, &["seed", "stock", "engine", "dirt", "done", "said"]);
    for (one, told) in wrong {
        let done = if one.faults.is_empty() { "nothing".into() } else { one.faults.clone() };
        line(
            text,
            &[
                one.seed.to_string(),
                format!("{:?}", one.stock),
                format!("{}, {}, {}", one.layout.word(), one.crank_wheel, one.known.word()),
                format!("{:?}", one.preset),
                done,
                format!("{} {:.4}: {}", told.state.word(), told.probability, told.leading),
            ],
        );
    }
    text.push('\n');
}

fn refusals(text: &mut String, outcomes: &[Outcome]) {
    let refused: Vec<(&Outcome, &String)> =
        outcomes.iter().filter_map(|one| Some((one, one.told.as_ref().err()?))).collect();
    if refused.is_empty() {
        return;
    }
    text.push_str("## Captures refused\n\n");
    for (one, why) in refused {
        let _ =
            writeln!(text, "* seed {} ({:?}, {}): {why}", one.seed, one.preset, one.crank_wheel);
    }
    text.push('\n');
}
