//! Tells where no screen is how many needs of a watch are met: the service manager whenever that
//! changes, standard error once it is known. What is lost later has alerts of its own.

use std::time::Duration;

use crate::advice::Needs;
use crate::time::Mono;
use crate::watch::Watch;

/// How often it is looked at. Our own.
const LOOK: Duration = Duration::from_secs(5);

/// So long after its beginning a watch has heard what it hears, near other ships. Our own.
const KNOWN_BY: Duration = Duration::from_secs(60);

/// What is told of the needs, and when they are looked at next.
pub(super) struct Readiness {
    begun: Mono,
    pub(super) due: Mono,
    /// What was told: whether all are met.
    told: Option<bool>,
    status: String,
}

/// What is to be told now.
#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct Told {
    /// The service manager.
    pub(super) status: Option<String>,
    /// Whoever reads standard error.
    pub(super) said: Option<String>,
}

impl Readiness {
    /// A watch begins, or begins to read other inputs.
    pub(super) fn begin(now: Mono) -> Self {
        Self { begun: now, due: now + LOOK, told: None, status: String::new() }
    }

    /// Looks, if it is time.
    pub(super) fn look(&mut self, watch: &Watch, now: Mono) -> Told {
        if now < self.due {
            return Told::default();
        }
        self.due = now + LOOK;
        self.judge(&Needs::of(&watch.inputs(now), &watch.own(now)), now)
    }

    fn judge(&mut self, needs: &Needs, now: Mono) -> Told {
        let words = needs.words();
        let is_new = match self.told {
            Some(met) => !met && needs.are_met(),
            None => needs.are_met() || now.since(self.begun) >= KNOWN_BY,
        };
        if is_new {
            self.told = Some(needs.are_met());
        }
        let status = (words != self.status).then(|| words.clone());
        self.status.clone_from(&words);
        Told { status, said: is_new.then_some(words) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::survey::NeedKind;

    #[test]
    fn it_is_said_once_known_and_once_met() {
        let after = |seconds| Mono::START + Duration::from_secs(seconds);
        let met = Needs { lacking: Vec::new() };
        let lacking = Needs { lacking: vec![(NeedKind::Heading, "no heading")] };
        let mut readiness = Readiness::begin(after(0));
        let mut said = |needs, at| readiness.judge(needs, after(at)).said;
        assert_eq!(said(&lacking, 5), None);
        assert_eq!(said(&lacking, 60).unwrap(), "watching, 2 of 3 needs met; no heading");
        assert_eq!(said(&lacking, 65), None);
        assert_eq!(said(&met, 70).unwrap(), "watching, 3 of 3 needs met");
        // From now on alerts tell.
        assert_eq!(said(&lacking, 200), None);
        assert_eq!(said(&met, 205), None);
        let mut sooner = Readiness::begin(after(0));
        let first = sooner.judge(&met, after(5));
        assert_eq!(first.status, first.said);
        assert!(first.said.is_some());
        assert_eq!(sooner.judge(&met, after(10)), Told::default());
        assert!(sooner.judge(&lacking, after(15)).status.is_some());
    }
}
