//! What a person wants of the screen.

/// What a person wants.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Action {
    /// Take note of the alert in view.
    Acknowledge,
    /// Stop the sound of the alert in view for 30 s.
    Silence,
    /// Say that the alert in view is over.
    Resolve,
    /// Judge the self-test in view and write it down.
    WriteTest,
    /// Mute the identity or the input of the alert in view, or hear all again.
    Mute,
    /// A person went overboard now, here.
    MarkOverboard,
    /// The beacon in view and the point it is taken for are two persons.
    Part,
    /// Enter the beacon in view in the muster.
    Enrol,
    /// Enter own position by hand.
    PlaceShip,
    /// Write a remark into the logbook.
    Note,
    /// Say how high the seas are.
    Seas,
    /// One of the answers that a question numbers, from 1.
    Choice(u8),
    /// A character of what is being typed.
    Typed(char),
    /// Take back the last character of it.
    Erase,
    /// Take what was typed.
    Enter,
    /// Go back from a page, or from what is being typed.
    Leave,
    /// Open or leave the list of those who could help.
    Who,
    /// Write the legs of the search as a route for a plotter.
    Export,
    /// Look at the next casualty.
    NextCasualty,
    /// Open or leave the page of what to say.
    Voice,
    /// Make the texts to be read aloud anew from what is known now.
    Renew,
    /// Open or leave the page of the outputs.
    Outputs,
    /// Open or leave the history.
    History,
    /// Open or leave the help.
    Help,
    /// Change the colours.
    Colours,
    /// Turn the plot: north up, or the bow.
    Orientation,
    /// One line up in the history.
    Up,
    /// One line down in the history.
    Down,
    /// Show only alarms in the history, or all.
    Filter,
    /// Show or leave the details of an entry.
    Details,
    /// Go back from a page; else end the watch, which asks.
    Quit,
    /// End the watch, whatever is open; asks.
    End,
    /// Yes, to what is asked.
    Confirm,
    /// Sound the alarm once by every way there is.
    SoundCheck,
    /// Keep the inputs that were found.
    KeepInputs,
    /// Hold a replay, or go on.
    Pause,
    /// Run a replay faster.
    Faster,
    /// Run a replay slower.
    Slower,
    /// Run a replay to its next event.
    NextEvent,
    /// Take a replay back to the event before.
    PreviousEvent,
    /// Nothing, by a key that means nothing: a question is answered with no.
    Other,
    /// The terminal has another size.
    Resized,
}
