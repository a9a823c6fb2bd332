//! Text tables: comma, semicolon or tab between cells.

pub(crate) mod decimal;
pub(crate) mod header;
pub(crate) mod interval;
pub(crate) mod layout;
pub(crate) mod number;
pub(crate) mod rows;
pub(crate) mod split;
pub(crate) mod stream;
pub(crate) mod units;
