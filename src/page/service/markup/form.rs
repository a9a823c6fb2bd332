//! The form that writes an engine file.

use maud::{Markup, html};

pub(in super::super) fn engine_form() -> Markup {
    html! {
        dialog id="form" aria-labelledby="h-form" {
            form method="dialog" id="form-fields" novalidate {
                h2 id="h-form" { "Write an engine file" }
                p.hint { "From the service information of the engine. Angles are crank degrees; leave empty what is not known." }
                p.hint id="form-from" {}
                div.fields {
                    label { "Name" input name="name"; }
                    label { "Firing order" input name="firing_order" placeholder="1-3-4-2"; }
                    label { "Bank 1 cylinders" input name="bank1" placeholder="1 3 5"; }
                    label { "Bank 2 cylinders" input name="bank2" placeholder="empty for one bank"; }
                    label { "Tolerance, ± degrees" input name="tolerance" placeholder="5" inputmode="decimal"; }
                }
                h3 { "Crank" }
                div.withwheel {
                    div.fields {
                        label { "Wheel" input name="crank_wheel" list="wheels" data-wheel="crank-drawing" placeholder="36-2 or 36 without 35 36"; }
                        label { "Sensor" select name="crank_sensor" { option { "hall" } option { "reluctance" } option { "pulse" } } }
                        label { "Edge that marks a tooth" select name="crank_edge" { option value="" { "not known" } option { "falling" } option { "rising" } } }
                        label { "TDC 1 after the first tooth" input name="tdc" inputmode="decimal"; }
                    }
                    div.drawing id="crank-drawing" aria-live="polite" {}
                }
                h3 { "Camshafts" }
                div id="form-cams" {}
                div.row {
                    button type="button" id="add-cam" { "Add a camshaft" }
                    button type="button" id="form-places" { "Show what this capture measured" }
                }
                p.hint id="places-words" {}
                h3 { "Chains, belts, gears" }
                p.hint { "Needed to tell whole teeth from anything else. Count the teeth of every sprocket; a shaft in between is named by you, for example idler." }
                div.row {
                    button type="button" data-drive="one" { "One chain to every camshaft" }
                    button type="button" data-drive="banks" { "One chain per bank" }
                    button type="button" data-drive="second" { "One to each bank, a second one in the bank" }
                    button type="button" data-drive="idler" { "Through an idler per bank" }
                    button type="button" id="add-chain" { "Add a chain" }
                }
                div id="form-chains" {}
                p.error id="form-error" role="alert" {}
                div.row id="form-ask" hidden { button type="button" id="form-insist" { "Yes, it is meant so" } }
                div.row {
                    button.main type="submit" id="form-save" { "Use this engine" }
                    button type="button" id="form-file" { "Use it and save it as a file" }
                    button type="button" id="form-close" { "Close" }
                }
                datalist id="shafts" {}
            }
        }
    }
}
