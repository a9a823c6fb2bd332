//! Which channel carries what: the names of leads, the rule that suggests them, and their scale.

mod assign;
mod error;
mod request;
mod suggest;
mod words;

pub use assign::{Lead, assign, assign_any, may_be_crank, starter_scale};
pub use error::LeadError;
pub use request::LeadRequest;
pub use suggest::{Seen, Suggestion, suggest};
pub use words::{Extra, RoleGuess, Words};

use crate::engine::Engine;
use words::{CRANK, plain};

/// What a lead is connected to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// Crank position sensor.
    Crank,
    /// Cam position sensor: index into the engine's cams.
    Cam(usize),
    /// Clamp around the starter cable.
    Starter,
    /// Battery voltage.
    Battery,
    /// Ignition primary or trigger of a cylinder.
    Ignition(u32),
    /// Control of a cylinder's injector.
    Injector(u32),
    /// In-cylinder pressure of a cylinder.
    Pressure(u32),
}

impl From<Extra> for Role {
    fn from(extra: Extra) -> Role {
        match extra {
            Extra::Starter => Role::Starter,
            Extra::Battery => Role::Battery,
            Extra::Ignition(cylinder) => Role::Ignition(cylinder),
            Extra::Injector(cylinder) => Role::Injector(cylinder),
            Extra::Pressure(cylinder) => Role::Pressure(cylinder),
        }
    }
}

impl Role {
    /// Reads the name of a lead: a cam's name, or one of the fixed names. Case, a unit behind it
    /// and underscores for blanks do not matter, unless two cams differ in nothing else.
    #[must_use]
    pub fn parse(name: &str, engine: &Engine) -> Option<Role> {
        if let Some(index) = engine.cam_index(name) {
            return Some(Role::Cam(index));
        }
        let wanted = plain(name);
        let alike = engine.cams.iter().enumerate().filter(|(_, cam)| plain(&cam.name) == wanted);
        match alike.map(|(index, _)| index).collect::<Vec<usize>>()[..] {
            [index] => Some(Role::Cam(index)),
            [] if wanted == CRANK => Some(Role::Crank),
            [] => name.parse::<Extra>().ok().map(Role::from),
            _ => None,
        }
    }

    /// The name a user gives the lead.
    #[must_use]
    pub fn name(self, engine: &Engine) -> String {
        match self {
            Role::Crank => CRANK.into(),
            Role::Cam(index) => engine.cams[index].name.clone(),
            Role::Starter => Extra::Starter.to_string(),
            Role::Battery => Extra::Battery.to_string(),
            Role::Ignition(cylinder) => Extra::Ignition(cylinder).to_string(),
            Role::Injector(cylinder) => Extra::Injector(cylinder).to_string(),
            Role::Pressure(cylinder) => Extra::Pressure(cylinder).to_string(),
        }
    }

    /// The lead beside the position sensors that this is; `None` for the crank and the cams.
    #[must_use]
    pub fn extra(self) -> Option<Extra> {
        match self {
            Role::Crank | Role::Cam(_) => None,
            Role::Starter => Some(Extra::Starter),
            Role::Battery => Some(Extra::Battery),
            Role::Ignition(cylinder) => Some(Extra::Ignition(cylinder)),
            Role::Injector(cylinder) => Some(Extra::Injector(cylinder)),
            Role::Pressure(cylinder) => Some(Extra::Pressure(cylinder)),
        }
    }

    /// Every lead an engine can have, in the order in which they are offered.
    #[must_use]
    pub fn all(engine: &Engine) -> Vec<Role> {
        let cylinders = || engine.firing_order.iter().copied();
        let mut all = vec![Role::Crank];
        all.extend((0..engine.cams.len()).map(Role::Cam));
        all.extend([Role::Starter, Role::Battery]);
        all.extend(cylinders().map(Role::Ignition));
        all.extend(cylinders().map(Role::Injector));
        all.extend(cylinders().map(Role::Pressure));
        all
    }
}
