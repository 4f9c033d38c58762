//! What is claimed of each example, for a source of the same shape in another module.
macro_rules! sample_card {
    ($of:ident) => {
        gluewright::prelude::prove::<$of::SampleCard>()
    };
}

macro_rules! loom_bridge {
    ($of:ident) => {
        gluewright::prelude::prove::<$of::LoomBridge>()
            .acknowledging("clash_n")
            .acknowledging("data of U1.q[0] and 7 others of the original when 3 to_loom changes")
            .acknowledging("data of U2.q[0] and 7 others of the original when 3 to_loom changes")
            .acknowledging("data of a[0] and 7 others of the replacement when 3 to_loom changes")
            .acknowledging("data of b[0] and 7 others of the replacement when 3 to_loom changes")
    };
}

macro_rules! organ_memory {
    ($of:ident) => {
        gluewright::prelude::prove::<$of::OrganMemory>()
    };
}

macro_rules! organ_pistons {
    ($of:ident) => {
        gluewright::prelude::prove::<$of::OrganPistons>().assuming($of::breaks_before_it_makes)
    };
}

pub(crate) use {loom_bridge, organ_memory, organ_pistons, sample_card};
