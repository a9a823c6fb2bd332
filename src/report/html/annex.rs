//! The annex: what the report rests on, so that it can be held against its captures again.

use maud::{Markup, PreEscaped, html};

use super::{Figure, embedded, gallery};
use crate::analysis::{Analysis, CrankingTest, Options, Overlay};
use crate::cam::ExpectedFrom;
use crate::capture::CaptureFacts;
use crate::engine::Engine;
use crate::learn::looks_faulty;
use crate::report::evidence::Evidence;
use crate::report::job::Job;
use crate::report::pictures::Picture;
use crate::report::words;

/// Of a timing report.
pub(super) fn part(
    analysis: &Analysis,
    job: &Job,
    figures: &[Figure],
    further: &Markup,
    over: Option<&Overlay>,
) -> Markup {
    let (engine, asked) = (&analysis.engine, &analysis.asked);
    html! {
        section.annex aria-label="Annex: evidence" {
            h2 { "Annex: what this report rests on" }
            (recordings(&analysis.facts))
            @if let Some(over) = over { (laid_over(over)) }
            (noted(job))
            (places(analysis))
            (told(engine, asked))
            (priors(asked))
            (again(&analysis.facts))
            (further)
            @if let Some(close_up) = gallery::one(figures, Picture::Gaps, "") {
                (gallery::side_by_side(&[close_up]))
            }
            (counts(analysis))
            (teardown())
        }
        (carried(&Evidence::of(analysis)))
    }
}

/// Of a report of captures without a crank.
pub(super) fn cranking(test: &CrankingTest, job: &Job) -> Markup {
    html! {
        section.annex aria-label="Annex: evidence" {
            h2 { "Annex: what this report rests on" }
            (recordings(&test.facts))
            (noted(job))
            (told(&test.engine, &test.asked))
            (again(&test.facts))
            (teardown())
        }
        (carried(&Evidence::of_cranking(test)))
    }
}

fn recordings(facts: &[CaptureFacts]) -> Markup {
    html! {
        h3 { "The recording" }
        (tables(facts))
    }
}

/// The recording of another engine that the close-up shows, which nothing was held against.
fn laid_over(over: &Overlay) -> Markup {
    html! {
        h3 { "Laid over it in the close-up" }
        (tables(&over.analysis.facts))
        p {
            "Said to be of a sound engine of this kind. It was looked at and not measured against. "
            @match looks_faulty(&over.analysis) {
                Some(why) => { b { "It looks faulty itself: " (why) "." } }
                None => { "Nothing in it looks faulty." }
            }
        }
    }
}

fn tables(facts: &[CaptureFacts]) -> Markup {
    html! {
        @for one in facts {
            table.facts { tbody {
                tr { th scope="row" { "File" } td { (one.name) } }
                @if let Some(file) = &one.file {
                    @if let Some(sum) = &file.sha256 { tr { th scope="row" { "SHA-256" } td.sum { (sum) } } }
                    tr { th scope="row" { "Size" } td { (file.bytes) " bytes" } }
                    tr { th scope="row" { "Recorded" } td { (file.recorded.as_deref().unwrap_or("the file does not say when")) } }
                }
                tr { th scope="row" { "Rows" } td { (words::recording(one)) } }
                tr { th scope="row" { "Resolution" } td {
                    "smallest step seen: "
                    (one.channels.iter().map(words::resolution).collect::<Vec<_>>().join("; "))
                } }
            } }
        }
    }
}

/// What the workshop noted of the job.
fn noted(job: &Job) -> Markup {
    let noted = job.noted();
    html! {
        h3 { "As noted by the workshop" }
        @if noted.is_empty() {
            p { "Nothing was noted of oscilloscope, clamp, leads, battery, coolant, oil, phaser command, vehicle identification and freeze frame." }
        } @else {
            table.facts { tbody {
                @for (word, text) in noted {
                    tr { th scope="row" { (word) } td.lines { (text) } }
                }
            } }
        }
    }
}

/// Where each "should be" is from.
fn places(analysis: &Analysis) -> Markup {
    let placed: Vec<_> =
        analysis.cams.iter().filter_map(|cam| Some((cam, cam.expected?))).collect();
    html! {
        h3 { "Where each “should be” comes from" }
        @if placed.is_empty() {
            p { "No place was known, so none was held against." }
        } @else {
            table.facts { tbody {
                @for (cam, expected) in placed {
                    tr {
                        th scope="row" { (analysis.engine.cams[cam.measured.cam].name) }
                        td { (format!("{:.1}°: ", expected.at.get())) (source(&analysis.engine, cam.measured.cam, expected.from)) }
                    }
                }
            } }
        }
        p { (words::counted_from(&analysis.engine)) }
    }
}

fn source(engine: &Engine, cam: usize, from: ExpectedFrom) -> String {
    match from {
        ExpectedFrom::KnownGood => {
            "measured on sound engines of this type, and so confirmed".into()
        }
        ExpectedFrom::EngineFile => match engine.source_of(cam) {
            Some(said) => format!("{said}; confirmed on no sound engine"),
            None => "the engine file, which names no source; confirmed on no sound engine".into(),
        },
    }
}

fn told(engine: &Engine, asked: &Options) -> Markup {
    let file = &engine.written.file;
    html! {
        h3 { "What the program was told" }
        p {
            "Engine file: " @if file.is_empty() { "none" } @else { (file) } ". "
            (words::options_used(engine, asked).join(" "))
        }
    }
}

fn priors(asked: &Options) -> Markup {
    let odds: Vec<String> =
        words::prior_odds(asked).into_iter().map(|(kind, odds)| format!("{kind} {odds}")).collect();
    html! {
        h3 { "Odds before anything was measured" }
        p { "Those " (words::prior_of(asked)) ": " (odds.join("; ")) ". They are judgement: no published frequencies are known." }
        p { (words::CALIBRATION) }
    }
}

/// Teeth of the crank wheel from its first to each edge of each cam.
fn counts(analysis: &Analysis) -> Markup {
    let counted = words::teeth_to_edges(analysis);
    html! {
        @if !counted.is_empty() {
            h3 { "Teeth of the crank wheel to each cam edge, counted from tooth 1, " (words::first_tooth(&analysis.engine)) }
            table.facts { tbody {
                @for (cam, edges) in counted {
                    tr { th scope="row" { (cam) } td { (edges.join("; ")) } }
                }
            } }
        }
    }
}

/// How anybody can hold it against its captures.
fn again(facts: &[CaptureFacts]) -> Markup {
    let names: Vec<String> = facts.iter().map(|one| format!("\"{}\"", one.name)).collect();
    html! {
        h3 { "To check this report" }
        p {
            "Found by Camwitness " (words::VERSION) ". With the capture at hand, "
            code { "camwitness verify \"this report.html\" " (names.join(" ")) }
            " says whether the report is unchanged, is of this capture, and is found again. The checksum shows a change; it is no signature."
        }
    }
}

/// Room for what is seen when the engine is opened, and for names.
fn teardown() -> Markup {
    html! {
        div.teardown {
            h3 { "When the engine is opened" }
            div.photographs {
                @for what in ["Timing marks, bank 1", "Timing marks, bank 2", "Crank sprocket and key", "Chain, guides, tensioner"] {
                    div.photograph { span { "Photograph: " (what) } }
                }
            }
            dl.job.sign {
                @for word in ["Found", "Technician, signature", "Customer, signature", "Date"] {
                    div { dt { (word) } dd { span.blank {} } }
                }
            }
        }
    }
}

fn carried(evidence: &Evidence) -> Markup {
    html! { script type="application/json" id="evidence" { (PreEscaped(embedded(&evidence.text()))) } }
}
