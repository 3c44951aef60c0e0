//! Lists and ranges as values of options.

use super::Failure;
use crate::compare::ListError;

/// Names the option whose list cannot be read.
pub(crate) fn of_option<T>(option: &'static str, list: Result<T, ListError>) -> Result<T, Failure> {
    list.map_err(|error| Failure::Option {
        option,
        text: error.text,
        wanted: error.wanted,
    })
}
