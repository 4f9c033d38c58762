//! Hash-consed Boolean terms: the algebra of proofs.
