//! Independent work shared out over the processors, with results that don't depend on how.

/// Works on all of them on as many threads as there are processors; the results stand in the order of the items.
pub fn side_by_side<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from).min(items.len()).max(1);
    let share = items.len().div_ceil(threads).max(1);
    std::thread::scope(|scope| {
        let running: Vec<_> =
            items.chunks(share).map(|chunk| scope.spawn(|| chunk.iter().map(&work).collect::<Vec<R>>())).collect();
        running
            .into_iter()
            .flat_map(|thread| thread.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
            .collect()
    })
}

#[cfg(test)]
mod tests {
    #[test]
    fn results_stand_in_the_order_of_the_items() {
        let items: Vec<u32> = (0..100).collect();
        assert_eq!(super::side_by_side(&items, |n| n * n), items.iter().map(|n| n * n).collect::<Vec<_>>());
        assert!(super::side_by_side(&[], |n: &u32| *n).is_empty());
    }
}
