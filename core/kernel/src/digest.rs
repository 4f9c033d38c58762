//! Digests by which a record names the files that it speaks of.

/// SHA-256 (FIPS 180-4) of these bytes, as 64 lower-case hexadecimal digits.
///
/// ```
/// // FIPS 180-4, example "abc"
/// let of_abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
/// assert_eq!(gluewright_kernel::digest::sha256(b"abc"), of_abc);
/// ```
pub fn sha256(bytes: &[u8]) -> String {
    hmac_sha256::Hash::hash(bytes).iter().map(|b| format!("{b:02x}")).collect()
}
