//! What the original does with contacts by copper alone: it joins some to each other, and straps some to a supply.
use std::sync::Arc;

use crate::circuit::{By, Contact, Direction, Driver, Expr, Label, Origin, Polarity, Rail, Stage};

use super::{Assumption, Formula, Question};

impl Question {
    /// The same question with the original's copper in it. A contact on a supply is one that the original drives for ever:
    /// a replacement that declares supply contacts of that rail, but not this one, must drive it alike. Contacts on one wire have one level
    /// while the original does not drive them, and change together.
    pub(super) fn with_wires(&self) -> Question {
        let mut question = self.clone();
        for (label, rail) in self.original.supplies() {
            let declared = self.replacement.supplies();
            let is_wired = !declared.iter().any(|(_, other)| other == rail);
            // a replacement that names no contact of a rail leaves the supply to whoever wires the socket
            if is_wired || declared.iter().any(|(other, _)| other == label) {
                continue;
            }
            let level = Expr::constant(*rail == Rail::Vcc);
            let name = if *rail == Rail::Vcc { "VCC" } else { "GND" };
            let original = &mut question.original;
            let net = original.add_net(format!("{name} at contact {label}"), Origin::Nowhere);
            let (origin, stage) = (Origin::Nowhere, Stage::PushPull);
            original
                .drive(net, Driver { enable: Expr::HIGH, level, stage, by: By::signal(name), origin: origin.clone() });
            let (label, polarity, direction) = (label.clone(), Polarity::Data, Direction::Output);
            original.add_contact(Contact { label, name: name.to_owned(), net, polarity, direction, origin });
        }
        for wire in self.original.joined_contacts() {
            let of = |label: &Label| self.original.contacts().iter().find(|c| c.label == *label);
            if wire.iter().filter_map(of).all(|contact| contact.direction == Direction::Output) {
                continue;
            }
            for pair in wire.windows(2) {
                let [a, b] = pair else { continue };
                let high = |label: &Label| Arc::new(Formula::High(label.clone()));
                let differ = Formula::Xor(high(a), high(b));
                let text = format!("contacts {a} and {b} are one wire on the original");
                question.assumptions.push(Assumption { text, holds: Formula::Not(Arc::new(differ)) });
            }
            question.move_together(wire);
        }
        question
    }

    /// Puts contacts into one group, with the groups that any of them is in already.
    fn move_together(&mut self, wire: &[Label]) {
        let (mut together, apart): (Vec<Vec<Label>>, Vec<Vec<Label>>) =
            self.groups.drain(..).partition(|group| group.iter().any(|label| wire.contains(label)));
        together.push(wire.to_vec());
        let mut group: Vec<Label> = Vec::new();
        for label in together.into_iter().flatten() {
            if !group.contains(&label) {
                group.push(label);
            }
        }
        self.groups = apart;
        self.groups.push(group);
    }
}
