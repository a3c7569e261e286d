//! The search for a silent casualty: planned with its first datum, moved on with each later one,
//! followed as the ship goes. A beacon that is heard again ends it: one steers to it.

use serde::{Serialize, Serializer};

use super::Watch;
use super::casualty::CasualtyId;
use super::event::EventBody;
use super::report::SearchReport;
use super::trail::Trail;
use crate::navigation::{
    Conditions, Datum, Guidance, Leg, Pattern, Position, Search, Seas, Unsteerable, Wishes,
};
use crate::time::Mono;
use crate::units::{Knots, NauticalMiles};

/// Slower than this the ship is not on her way: a search is planned at the speed that is set for it.
/// Our own.
const UNDER_WAY: Knots = Knots(2.0);

/// A search as it is seen.
#[derive(Clone, Debug, Serialize)]
pub struct SearchView {
    /// Which pattern.
    pub pattern: Pattern,
    /// Which, why and how sure, in one line.
    pub why: String,
    /// How wide a strip is searched.
    #[serde(rename = "sweep_width_nm")]
    pub sweep_width: NauticalMiles,
    /// What was taken for granted, for want of wind, seas, visibility or height of eye; else empty.
    pub assumed: String,
    /// What to steer now; `None` when the search is over.
    #[serde(serialize_with = "guidance_or_why_not")]
    pub guidance: Result<Option<Guidance>, Unsteerable>,
    /// How many legs a pass has.
    pub legs: u32,
    /// The ends of the legs from now on to the end of the pass, where they will be.
    pub ahead: Vec<Position>,
}

/// What to steer, or in a sentence why it cannot be; null when the search is over.
fn guidance_or_why_not<S: Serializer>(
    guidance: &Result<Option<Guidance>, Unsteerable>,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    match guidance {
        Ok(guidance) => guidance.serialize(serializer),
        Err(why) => serializer.collect_str(why),
    }
}

impl Watch {
    /// The conditions of a search now.
    pub(super) fn conditions(&self) -> Conditions {
        let now = self.now.at;
        let water = self.own.through_water(now).map(|velocity| velocity.speed());
        let speed = water.or_else(|| self.own.sog(now)).filter(|&speed| speed >= UNDER_WAY);
        Conditions {
            speed: speed.unwrap_or(self.settings.approach_speed),
            current: self.own.current(now),
            wind: self.own.wind(now),
            lookout: self.settings.lookout,
        }
    }

    /// Takes how high the seas are. A search for the narrower or wider strip is another one: it is
    /// planned anew, from where the ship is.
    pub(super) fn set_seas(&mut self, seas: Seas) {
        if self.settings.lookout.seas.replace(seas) == Some(seas) {
            return;
        }
        let (own, conditions) = (self.own_position().0, self.conditions());
        let (wishes, mut told) = (self.settings.wishes, Vec::new());
        for casualty in self.casualties_mut() {
            let id = casualty.id();
            let trail = casualty.trail_mut();
            if let (Some(datum), Some(_)) = (trail.datum, trail.search.take()) {
                told.extend(trail.search(datum, own, &conditions, &wishes, id));
            }
        }
        for body in told {
            self.tell(body);
        }
    }

    /// The legs of the search for a casualty from now on, with why it is such a one.
    pub fn search_legs(&self, id: CasualtyId, at: Mono) -> Option<(String, Vec<Leg>)> {
        let own = self.own(at).position?;
        let search = self.casualties().find(|it| it.id() == id)?.trail().search.as_ref()?;
        Some((search.why().to_owned(), search.legs(own, at).ok()?))
    }
}

impl Trail {
    /// Plans the search about a datum, or moves it on. What is to be told of a new one.
    pub(super) fn search(
        &mut self,
        datum: Datum,
        own: Option<Position>,
        conditions: &Conditions,
        wishes: &Wishes,
        id: CasualtyId,
    ) -> Option<EventBody> {
        let own = own?;
        if let Some(search) = &mut self.search {
            search.refresh(datum, conditions);
            return None;
        }
        let planned = Search::plan(&datum, own, datum.at, conditions, wishes);
        self.unsteerable = planned.as_ref().err().copied();
        let search = planned.ok()?;
        let legs = search.legs(own, datum.at).unwrap_or_default();
        let report = SearchReport::of(&search, &legs, conditions, id);
        self.search = Some(search);
        Some(EventBody::Search(report))
    }

    /// The ship has moved.
    pub(super) fn advance(&mut self, own: Position, now: Mono) {
        if let Some(search) = &mut self.search {
            search.advance(own, now);
        }
    }

    /// The search as it is seen.
    pub(super) fn search_view(
        &self,
        own: Option<Position>,
        now: Mono,
        conditions: &Conditions,
    ) -> Option<SearchView> {
        let (search, own) = self.search.as_ref().zip(own)?;
        let plan = search.shape();
        let pass = search.place().map(|place| place.pass);
        let legs = search.legs(own, now).unwrap_or_default();
        let ahead = legs.iter().filter(|leg| Some(leg.place.pass) == pass).map(|leg| leg.to);
        Some(SearchView {
            pattern: plan.pattern,
            why: search.why().to_owned(),
            sweep_width: plan.sweep_width,
            assumed: conditions.assumed(),
            guidance: search.guidance(own, now),
            legs: plan.legs,
            ahead: ahead.collect(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::settings::LOOKOUT;
    use super::*;
    use crate::navigation::{Drift, Velocity};
    use crate::units::Degrees;

    #[test]
    fn a_search_that_cannot_be_steered_says_so() {
        let place = Position::new(50.0, -5.0).unwrap();
        let own = crate::navigation::destination(place, Degrees::new(180.0), NauticalMiles(1.0));
        let drift = Drift::given(Velocity::of(Degrees::new(0.0), Knots(8.0)), place, Mono::START);
        let datum = Datum::begin(place, Mono::START, Some(drift));
        let conditions = Conditions {
            speed: Knots(5.0),
            current: Some(Velocity::STILL),
            wind: None,
            lookout: LOOKOUT,
        };
        let (mut trail, id) = (Trail::default(), CasualtyId::Mark(1));
        let told = trail.search(datum, Some(own), &conditions, &Wishes::default(), id);
        assert!(told.is_none() && trail.search.is_none());
        let why = trail.unsteerable.unwrap().to_string();
        assert_eq!(
            why,
            "the way to the datum cannot be steered at 5.0 kn through the water: it takes more speed"
        );
        // With more speed there is one, and nothing is said.
        let faster = Conditions { speed: Knots(12.0), ..conditions };
        assert!(trail.search(datum, Some(own), &faster, &Wishes::default(), id).is_some());
        assert_eq!(trail.unsteerable, None);
    }
}
