//! Another plan that was read, and whether its inputs can be had.

use super::plan::Plan;
use crate::edge::{Claims, Clock, Holder, InUse, InputUri};

/// What became of a request to read the plan again.
#[derive(Debug)]
pub(super) struct Reread {
    /// The plan; `None` if what is written is wrong, which was said.
    pub(super) plan: Option<Plan>,
    /// Whether its inputs are this program's own now.
    pub(super) held: Result<(), InUse>,
    /// The locks of inputs that were lent for it.
    pub(super) lent: Lent,
}

/// The locks of the inputs, where they are taken for another plan.
#[derive(Debug, Default)]
pub(super) struct Lent {
    pub(super) claims: Option<Claims>,
    /// What nobody named and is open; `None` where inputs are named.
    pub(super) found: Option<Vec<(String, InputUri)>>,
}

impl Lent {
    /// Takes the inputs of another plan instead; all or nothing.
    ///
    /// # Errors
    /// Another program of this kind reads one of them.
    pub(super) fn claim(&mut self, plan: &Plan) -> Result<(), InUse> {
        let found = self.found.take().filter(|_| plan.finds.is_some());
        let wanted = found.unwrap_or_else(|| named(plan));
        let Some(claims) = &mut self.claims else { return Ok(()) };
        claims.hold(&wanted, &holder(plan))
    }
}

/// The inputs that a plan has at once.
pub(super) fn named(plan: &Plan) -> Vec<(String, InputUri)> {
    let first = plan.finds.iter().map(|finds| (finds.first().to_string(), finds.first()));
    plan.inputs.iter().cloned().chain(first).collect()
}

/// Who reads the inputs, for others on this computer.
pub(super) fn holder(plan: &Plan) -> Holder {
    Holder {
        pid: std::process::id(),
        input: String::new(),
        folder: plan.folder.clone().filter(|_| plan.keeps_logbook),
        since: Clock::start().now().utc.to_string(),
        door: plan.door.clone(),
    }
}
