//! What stands beside the steps: report, list, shelf, and what is needed less often.

use maud::{Markup, html};

pub(in super::super) fn report() -> Markup {
    html! {
        section id="report-part" hidden aria-labelledby="h-report" {
            h2 id="h-report" tabindex="-1" { "Report" }
            div role="status" { p.finding id="finding" {} p id="finding-words" {} ul.hint id="finding-notes" {} }
            div.row id="downloads" {}
            div.row.local id="keep-row" hidden { button type="button" id="keep" { "Keep as a job on the shelf" } span id="kept" role="status" {} }
            p.error id="keep-error" role="alert" {}
            iframe id="report" title="Report" sandbox="allow-scripts allow-modals" {}
        }
    }
}

pub(in super::super) fn list(watching: Option<&str>) -> Markup {
    html! {
        section aria-labelledby="h-list" {
            h2 id="h-list" { "This session" }
            @if let Some(folder) = watching {
                p id="watching" { "Watching " b { (folder) } ": a capture saved there is read and judged with the engine chosen in step 2. Nothing there is changed." }
                ul.error id="watch-refused" {}
            }
            p.hint id="list-empty" { "Nothing measured yet. Results stay here until the page is stopped; save what is to be kept. With two of them, before and after a repair can be compared." }
            div.wide tabindex="0" role="region" aria-label="Results, as a table" { table id="list" hidden {
                thead { tr { th scope="col" { "Capture" } th scope="col" { "Engine" } th scope="col" { "Finding" } th scope="col" { "Camshafts" } th scope="col" { span.unseen { "What can be done" } } } }
                tbody {}
            } }
            div id="compare" hidden {
                h3 { "Before and after a repair" }
                div.row {
                    label { "Before " select id="before" {} }
                    label { "After " select id="after" {} }
                    button type="button" id="compare-go" { "Compare" }
                }
                label { "Work done, for the sheet to sign " input id="work" maxlength="120"; }
                p.error id="compare-error" role="alert" {}
                button type="button" id="compare-anyway" hidden { "They are in order: compare them" }
                div id="compared" role="status" {}
            }
        }
    }
}

pub(in super::super) fn tools() -> Markup {
    html! {
        section.local id="shelf-part" hidden aria-labelledby="h-shelf" {
            h2 id="h-shelf" { "The shop's shelf" }
            p.hint id="shelf-words" {}
            p.error id="shelf-error" role="alert" {}
            div.row id="shelf-row" { button type="button" id="shelf-save" { "Save the shelf as one file" } label { "Add a shelf that was saved as one file " input type="file" id="shelf-file" accept=".gz,.tgz"; } }
            p.hint.lines id="shelf-said" role="status" {}
            div.wide tabindex="0" role="region" aria-label="Jobs, as a table" { table id="jobs" hidden {
                thead { tr { th scope="col" { "Job" } th scope="col" { "Engine" } th scope="col" { "Finding" } th scope="col" { "When it was opened" } } }
                tbody {}
            } }
            div id="outcome-part" hidden {
                h3 { "What was found when the engine was opened" }
                div.fields {
                    label { "Job" select id="outcome-job" {} }
                    label { "What was found, in your words" input id="outcome-text" maxlength="300" placeholder="B2 intake one tooth late"; }
                    label { "The finding was" select id="outcome-was" { option value="" { "not settled by it" } option value="right" { "right" } option value="wrong" { "not so" } } }
                    label.tick { input type="checkbox" id="outcome-sound"; " The timing was found sound: add it to the known-good" }
                }
                div.row { button type="button" id="outcome-go" { "Write it down" } span id="outcome-said" role="status" {} }
                p.error id="outcome-error" role="alert" {}
            }
            ul.hint id="record" {}
        }
        section aria-labelledby="h-more" {
            h2 id="h-more" { "More" }
            details id="plan-part" {
                summary { "Hook-up sheet to print" }
                p.hint { "For the engine chosen in step 2: which lead on which channel, how long, how fast." }
                div.fields {
                    label { "Channels of the scope" input id="plan-channels" inputmode="numeric" placeholder="4"; }
                    label { "Cranking speed, rpm" input id="plan-rpm" inputmode="decimal" placeholder="200"; }
                    label { "Accuracy, ± crank degrees" input id="plan-accuracy" inputmode="decimal" placeholder="0.3"; }
                }
                div.row id="plan-links" { button type="button" id="plan-go" { "Make the sheet" } }
                p.error id="plan-error" role="alert" {}
            }
            details id="learn-part" {
                summary { "Learn from a sound engine" }
                p.hint { "Captures of an engine that is known to be sound say where its cams stand. From then on captures of the same type are held against that." }
                div id="learn-captures" {}
                label.tick { input type="checkbox" id="learn-several"; " Each is of another engine of this type" }
                label.tick { input type="checkbox" id="learn-anyway"; " They are known to be sound" }
                div.row id="learn-row" { button type="button" id="learn-go" { "Learn" } }
                p.error id="learn-error" role="alert" {}
                pre id="learned" role="status" {}
            }
            details id="practice-part" {
                summary { "Practice captures for a class" }
                p.hint { "A capture of the engine chosen in step 2 with a fault built in. The class gets the capture, the instructor keeps what was done." }
                div.fields {
                    label { "Fault" select id="practice-fault" { option value="" { "none: a sound engine" } } }
                    label { "Signals" select id="practice-preset" { option value="workshop" { "as in a workshop" } option value="clean" { "clean" } option value="nasty" { "bad hook-up" } } }
                    label { "Number of the specimen" input id="practice-seed" inputmode="numeric" value="1"; }
                    label { "Further leads" input id="practice-leads" placeholder="ignition 1, battery"; }
                }
                div.row id="practice-row" { button type="button" id="practice-go" { "Make it" } }
                p.error id="practice-error" role="alert" {}
            }
        }
    }
}
