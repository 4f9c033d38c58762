//! The page of parts stands in the repository as the data make it.
use std::path::Path;

/// After a change of the data: `BLESS=1 cargo test -p gluewright-parts --test checks page::`.
#[test]
fn the_page_of_parts_is_up_to_date() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("PARTS.md");
    let page = gluewright_parts::page();
    if std::env::var_os("BLESS").is_some() {
        std::fs::write(&file, &page).expect("PARTS.md can be written");
    }
    let stands = std::fs::read_to_string(&file).unwrap_or_default();
    let first = page.lines().zip(stands.lines().chain(std::iter::repeat(""))).find(|(new, old)| new != old);
    assert!(
        stands == page,
        "PARTS.md is out of date, first here: {first:?}\nmake it again: BLESS=1 cargo test -p gluewright-parts --test checks page::"
    );
}

#[test]
fn the_readme_counts_the_parts() {
    let readme =
        std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("../README.md")).unwrap_or_default();
    let readme = readme.split_whitespace().collect::<Vec<_>>().join(" ");
    let (mut logic, mut proms, mut others) = (0, 0, 0);
    for kind in gluewright_parts::parts() {
        match (kind.logic(), kind.memory()) {
            (Some(_), _) => logic += 1,
            (None, Some(_)) => proms += 1,
            (None, None) => others += 1,
        }
    }
    let families = gluewright_parts::Family::ALL.len();
    let counts =
        format!("{logic} types with logic in {families} families, {proms} PROMs, {others} parts that are no logic");
    assert!(readme.contains(&counts), "README.md should say: {counts}");
}
