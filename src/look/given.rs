//! A look at a capture whose crank wheel somebody named.

use super::{Header, Look, cams, is_position};
use crate::capture::Capture;
use crate::crank::{CrankError, lock};
use crate::edges::find_edges;
use crate::engine::{Crank, Lines};
use crate::leads::RoleGuess;
use crate::wheel::{EdgeKind, Wheel};

/// The same look with the crank read by this wheel, and the cams by that crank.
///
/// # Errors
/// The wheel does not fit the crank's signal.
pub fn with_wheel(
    mut look: Look,
    capture: &Capture,
    wheel: &Wheel,
    edge: Option<EdgeKind>,
) -> Result<Look, CrankError> {
    let Some(index) = look.crank else { return Ok(look) };
    let sensor = look.crank_sensor();
    let crank = Crank {
        wheel: wheel.clone(),
        sensor,
        edge,
        over_tooth: None,
        tdc: None,
        lines: Lines::default(),
        described: true,
    };
    let train = find_edges(capture, &capture.channels[index], None);
    let lock = lock(&train, &crank, &look.channels[index].name)?;
    look.cams.clear();
    for other in (0..look.channels.len()).filter(|&other| other != index) {
        // A cam whose edges did not come back by the crank as it was guessed may do so by this one.
        // What is known for another kind of lead is none.
        let role = look.channels[other].role;
        let asked = !matches!(role, RoleGuess::Crank | RoleGuess::Cam | RoleGuess::Unknown);
        let may_be = is_position(&look.channels[other], &Header { role: Some(role), asked });
        let train = find_edges(capture, &capture.channels[other], None);
        let Some(cam) =
            may_be.then(|| cams::describe(&look.channels[other].name, &train, &lock)).flatten()
        else {
            continue;
        };
        look.channels[other].role = RoleGuess::Cam;
        look.cams.push(cam);
    }
    look.lock = Some(lock);
    Ok(look)
}
