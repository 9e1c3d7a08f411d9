//! Symbols in the manner of IEC 60617, drawn by ourselves: each upright, its first pin at the origin and its second one below.
//! Lengths are in steps of the grid.

use benchleaf_core::circuit::{Kind, State};

/// A symbol: lines to stroke, areas to fill, and a letter inside.
pub(super) struct Shape {
    pub(super) lines: &'static str,
    pub(super) filled: &'static str,
    pub(super) letter: Option<&'static str>,
}

/// The symbol of a kind; boxes are drawn by their size.
pub(super) fn shape(kind: Kind, state: Option<State>) -> Shape {
    let (lines, filled) = match kind {
        Kind::Resistor => ("M0 0V1.2M0 4.8V6M-.7 1.2H.7V4.8H-.7Z", ""),
        Kind::Capacitor => ("M0 0V2.7M0 3.3V6M-1.4 2.7H1.4M-1.4 3.3H1.4", ""),
        Kind::PolarisedCapacitor => ("M0 0V2.7M0 3.3V6M-1.4 2.7H1.4M-1.4 3.3H1.4M-1.7 1.7H-.7M-1.2 1.2V2.2", ""),
        Kind::Inductor => ("M0 0V1M0 5V6M0 1a.5.5 0 0 1 0 1a.5.5 0 0 1 0 1a.5.5 0 0 1 0 1a.5.5 0 0 1 0 1", ""),
        Kind::Diode => ("M0 0V6M-1 2.1H1L0 3.9ZM-1 3.9H1", ""),
        Kind::Led => (
            "M0 0V6M-1 2.1H1L0 3.9ZM-1 3.9H1M1.3 2.4L2.5 1.6M1.5 3.4L2.7 2.6",
            "M2.9 1.3L2.35 2L2.05 1.55ZM3.1 2.3L2.55 3L2.25 2.55Z",
        ),
        Kind::Zener => ("M0 0V6M-1 3.9H1L0 2.1ZM-1.1 2.6V2.1H1.1", ""),
        Kind::Npn => ("M-4 3H-1.2M-1.2 1.6V4.4M-1.2 2.4L0 1.3V0M-1.2 3.6L0 4.7V6", "M0 4.7L-.75 4.45L-.3 3.95Z"),
        Kind::Pnp => ("M-4 3H-1.2M-1.2 1.6V4.4M-1.2 2.4L0 1.3V0M-1.2 3.6L0 4.7V6", "M-1.1 2.3L-.85 1.6L-.37 2.12Z"),
        Kind::Nmos => (
            "M-4 3H-1.7M-1.7 2V4M-1.2 1.5V2.3M-1.2 2.6V3.4M-1.2 3.7V4.5M-1.2 1.9H0V0M-1.2 4.1H0V6M-1.2 3H0V4.1",
            "M-1.15 3L-.45 2.65V3.35Z",
        ),
        Kind::Pmos => (
            "M-4 3H-1.7M-1.7 2V4M-1.2 1.5V2.3M-1.2 2.6V3.4M-1.2 3.7V4.5M-1.2 1.9H0V0M-1.2 4.1H0V6M-1.2 3H0V1.9",
            "M-.2 3L-.9 2.65V3.35Z",
        ),
        Kind::Switch | Kind::Contact if state == Some(State::Closed) => ("M0 0V1.8M0 6V4.2L-.35 1.8", ""),
        Kind::Button if state == Some(State::Closed) => ("M0 0V1.8M0 6V4.2L-.35 1.8M-.3 3H-1.6M-1.6 2.3V3.7", ""),
        Kind::Switch | Kind::Contact => ("M0 0V1.8M0 6V4.2L-1.1 1.6", ""),
        Kind::Button => ("M0 0V1.8M0 6V4.2L-1.1 1.6M-.75 2.6H-1.8M-1.8 1.9V3.3", ""),
        Kind::Coil => ("M0 0V2M0 4V6M-1.9 2H1.9V4H-1.9Z", ""),
        Kind::Motor => ("M0 0V1.2M0 4.8V6M1.8 3A1.8 1.8 0 1 1 -1.8 3A1.8 1.8 0 1 1 1.8 3", ""),
        Kind::Lamp => (
            "M0 0V1.4M0 4.6V6M1.6 3A1.6 1.6 0 1 1 -1.6 3A1.6 1.6 0 1 1 1.6 3M-1.13 1.87L1.13 4.13M1.13 1.87L-1.13 4.13",
            "",
        ),
        Kind::Fuse => ("M0 0V6M-.6 1.4H.6V4.6H-.6Z", ""),
        Kind::Battery => ("M0 0V2.7M0 3.3V6M-1.6 2.7H1.6M-.8 3.3H.8M-1.8 1.7H-.8M-1.3 1.2V2.2", ""),
        Kind::Supply => ("M0 0V6M1.8 3A1.8 1.8 0 1 1 -1.8 3A1.8 1.8 0 1 1 1.8 3M-1.9 .7H-.9M-1.4 .2V1.2", ""),
        Kind::Load => ("M0 0V1.2M0 4.8V6M1.8 3A1.8 1.8 0 1 1 -1.8 3A1.8 1.8 0 1 1 1.8 3M-1.8 3H1.8", ""),
        Kind::Regulator | Kind::Connector | Kind::Chip => ("", ""),
    };
    Shape { lines, filled, letter: (kind == Kind::Motor).then_some("M") }
}
