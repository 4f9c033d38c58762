//! Single fuses in the wrong state: which there are, which of them given vectors find, and what is to be said of that.
pub(super) mod campaign;
pub(super) mod coverage;
pub(super) mod flip;
