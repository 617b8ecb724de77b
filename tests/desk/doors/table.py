"""Every address of the app: what its gaps are about, and what reading (GET) and pressing (POST) ask for.

open     anybody, signed in or not
in       anybody who is signed in
former   anybody who has or had a role: what waits on a phone comes in later than its writer left
leaves   signs out, whoever presses
token    only a program that names a token: no session opens it
shut     nothing is behind it for anybody of the cast: the owners' own pages, links and cards that are none
-        this method is not answered
an act   who may do it by the table of who may do what (sugarbush.volunteers.access), for a row of North Bank where
         the address is about one of a group's, else anywhere
?        behind the act there may be nothing just now (404): no photo, no jar to give on
Bob      the person whom the row is about, too
but Kai      not the boil lead: the message is to a group, and boil leads write to crews of boiling days alone
everywhere   those alone whose right reaches the whole programme
"""

from __future__ import annotations

from dataclasses import dataclass

# Rows that belong to a group: whoever is of another one is told that there is no such thing.
OF_A_GROUP = frozenset(
    {
        *("tree", "tree by number", "look", "check", "tap", "tap to settle", "entry", "odd entry", "photo"),
        *("person", "role", "credential", "its cards", "cards", "owner", "slip", "round", "run", "round sheet"),
        "message",
    }
)

LINES = """
today                  |                | in                           | in
map                    |                | trees.see                    | -
map-trees              |                | trees.see                    | -
map-streets            |                | trees.see                    | -
map-codes              |                | -                            | trees.see
map-find               |                | trees.see                    | -
map-card               | tree           | trees.see                    | -
map-card-by-number     | tree by number | trees.see                    | -
map-ask                |                | -                            | permission.draft
trees-group            |                | -                            | tree.change
trees-consider         |                | -                            | tree.scout
owner-link             | owner’s link   | open                         | -
my-tree                |                | open                         | -
my-tree-leave          |                | -                            | open
my-permission          | slip           | shut                         | shut
my-stop                | slip           | shut                         | shut
my-jar                 | slip           | -                            | shut
my-treated             | tree           | -                            | shut
tree                   | tree           | trees.see                    | -
tag                    | tree           | open                         | -
handbook               |                | open                         | -
about                  |                | open                         | -
cautions               |                | open                         | -
healthz                |                | open                         | -
readyz                 |                | open                         | -
history                |                | audit.see                    | -
history-csv            |                | audit.see                    | -
privacy                |                | open                         | -
my-data                |                | -                            | in
person-data            | person         | -                            | person.data
sign-in                |                | open                         | -
sign-in-demo           |                | -                            | shut
sign-in-link           | link           | shut                         | shut
sign-out               |                | -                            | leaves
join                   |                | open                         | open
join-you               |                | open                         | open
join-card              | card           | shut                         | -
me                     |                | in                           | in
device-end             | device         | -                            | shut
people                 |                | people.see                   | -
person-new             |                | people.change                | people.change
person                 | person         | people.see                   | people.change
person-role            | person         | -                            | people.change
person-role-end        | role           | -                            | people.change
person-credential      | person         | -                            | credential.grant
person-credential-end  | credential     | -                            | credential.grant
person-link            | person         | -                            | people.change
person-signed-out      | person         | -                            | people.change
person-leave           | person         | -                            | people.change
person-forget          | person         | -                            | person.data
person-back            | person         | -                            | people.change
groups                 |                | trees.see                    | -
group-new              |                | groups.change                | groups.change
group                  | group          | trees.see                    | groups.change
group-cards            | its cards      | cards.make                   | cards.make
card-sheet             | cards          | cards.make                   | -
card-sheet-print       | cards          | cards.make                   | -
card-sheet-withdraw    | cards          | -                            | cards.make
access-table           |                | in                           | -
programme              |                | season.totals                | programme.change
programme-new          |                | programme.change             | programme.change
seasons                |                | season.totals                | -
season-new             |                | season.change                | season.change
season                 | season         | season.totals                | -
season-rules           | season         | season.change                | season.change
season-step            | season         | -                            | season.step
weather                |                | weather.see                  | weather.change
trees                  |                | trees.see                    | -
trees-csv              |                | trees.see                    | -
tree-new               |                | tree.scout                   | tree.scout
tree-doubles           |                | tree.merge                   | tree.merge?
tree-edit              | tree           | tree.change                  | tree.change
tree-life              | tree           | tree.life                    | tree.life
tree-look              | tree           | tree.scout                   | tree.scout
look-photo             | look           | trees.see?                   | -
tree-species           | tree           | trees.see                    | tree.change
tree-check             | tree           | tree.check                   | tree.check
tree-check-result      | check          | trees.see                    | -
tree-treatment         | tree           | treatment.record             | treatment.record
tree-merge             | tree           | tree.merge                   | tree.merge
files                  |                | files.take                   | -
file-new               |                | files.take                   | files.take
streets-new            |                | files.take                   | files.take
past-new               |                | files.take                   | files.take
file                   | file           | files.take                   | files.take
file-progress          | file           | files.take                   | -
file-problems          | file           | files.take                   | -
owners                 |                | owners.see                   | -
owner-new              |                | owners.change                | owners.change
owner                  | owner          | owners.see                   | -
owner-edit             | owner          | owners.change                | owners.change
owner-reach            | owner          | -                            | contact.see
owner-link-make        | owner          | -                            | owner.link
owner-link-withdraw    | owner          | -                            | owner.link
permissions            |                | permission.see               | -
permissions-csv        |                | permission.see               | -
permission-new         |                | permission.draft             | permission.draft
permission             | slip           | permission.see               | -
permission-act         | slip           | -                            | permission.decide
permission-change      | slip           | permission.decide            | permission.decide
permission-trees       | slip           | -                            | permission.decide
permission-scan        | slip           | permission.decide?           | permission.decide
containers             |                | kit.see                      | -
container-new          |                | kit.change                   | kit.change
container-labels       |                | kit.see                      | -
container-label        | container      | kit.see                      | -
container              | container      | kit.see                      | kit.change
depots                 |                | kit.see                      | -
depot-new              |                | depot.change                 | depot.change
depot                  | depot          | depot.change                 | depot.change
assign                 |                | assign                       | assign
assign-end             | tree           | -                            | assign
tap-new                | tree           | collection.log               | collection.log
taps-in                |                | trees.see                    | -
taps-pull              |                | -                            | tap.pull
taps-settle            |                | tap.settle                   | -
tap                    | tap            | trees.see                    | -
tap-pull               | tap            | -                            | tap.pull
tap-mark               | tap            | -                            | tap.pull
tap-settle             | tap to settle  | -                            | tap.settle
log                    |                | collection.log               | collection.log
log-entry              | entry          | collection.see               | collection.settle, Bob
log-tree               | tree           | collection.log               | collection.log
log-sap                | tree           | collection.log               | collection.log
log-quick              | tree           | -                            | collection.log
review-list            |                | collection.see               | collection.see
review-one             | odd entry      | collection.settle            | collection.settle
board                  |                | round.board                  | -
rounds                 |                | round.see                    | -
rota                   |                | round.see                    | -
round-new              |                | round.plan                   | round.plan
round-split            |                | round.plan                   | round.plan
round-plan             | round          | round.see                    | -
round-change           | round          | -                            | round.plan
round-stops            | round          | -                            | round.plan
round-give             | round          | -                            | round.plan
round-today            | round          | -                            | round.plan
run                    | run            | round.see                    | -
run-call               | run            | -                            | round.plan?
run-finish             | run            | -                            | collection.log
run-step               | run            | -                            | round.plan
run-say                | run            | -                            | collection.log
my-rounds              |                | round.see                    | -
deliveries             |                | delivery.see                 | delivery.see
delivery-new           |                | delivery.accept              | delivery.accept
delivery               | delivery       | delivery.see everywhere, Bob | delivery.accept
hand-over              |                | delivery.see                 | delivery.see
approvals              |                | delivery.see                 | delivery.see?
tanks                  |                | delivery.see                 | -
tank-new               |                | delivery.accept              | delivery.accept
tank-labels            |                | delivery.see                 | -
tank                   | tank           | delivery.see                 | delivery.accept
tank-label             | tank           | delivery.see                 | -
tank-temperatures      | tank           | delivery.see                 | delivery.accept
tank-out-of-use        | tank           | -                            | delivery.accept
boil-days              |                | delivery.see                 | delivery.see
boil-day-new           |                | boil.plan                    | boil.plan
boil-day               | day            | delivery.see                 | -
boil-day-edit          | day            | boil.plan                    | boil.plan
boil-step              | day            | -                            | boil.plan
boil-come              | day            | -                            | delivery.see
boil-day-sheet         | day            | delivery.see                 | -
boil-shifts            | day            | -                            | boil.plan
boil-shift-new         | day            | boil.plan                    | boil.plan
boil-shift             | shift          | boil.plan                    | boil.plan
day-water              | day            | boil.plan                    | boil.plan
day-pan                | day            | pan.watch                    | boil.plan
batch                  | batch          | pan.watch                    | -
pan                    | batch          | pan.watch                    | -
pan-now                | batch          | pan.watch                    | -
pan-look               | batch          | -                            | boil.plan
pan-reading            | batch          | boil.plan                    | boil.plan
pan-sap                | batch          | boil.plan                    | boil.plan
pan-draw               | batch          | boil.plan                    | boil.plan
pan-loss               | batch          | boil.plan                    | boil.plan
pan-back               | pan line       | boil.plan?                   | boil.plan?
pan-close              | batch          | boil.plan                    | boil.plan
lots                   |                | lot.see                      | -
lot-new                |                | lot.pack                     | lot.pack
lot                    | lot            | lot.see                      | -
lot-release            | lot            | -                            | lot.release
lot-label              | lot            | lot.see                      | -
lot-scan               | lot            | lot.see                      | -
lot-act                | lot act        | lot.pack                     | lot.pack
jars-back              | jars           | lot.issue                    | lot.issue
trace                  |                | lot.trace                    | -
trace-csv              |                | lot.trace?                   | -
recalls                |                | lot.holders                  | -
recall-new             |                | recall.open                  | recall.open
recall                 | recall         | lot.holders                  | -
recall-call            | recall         | -                            | recall.call?
recall-close           | recall         | -                            | recall.close
shares                 |                | share.own                    | -
share-rule-new         |                | share.rule                   | share.rule
share-rule             | share rule     | share.see                    | -
share-rule-publish     | share rule     | -                            | share.rule
share-preview          | share rule     | share.see                    | -
share-run-new          |                | -                            | share.run
share-run              | share run      | share.see                    | -
share-run-step         | share run      | -                            | share.run?
share-csv              | share run      | share.see                    | -
share-statements       | share run      | share.see                    | -
share-answer           | question       | -                            | share.run
share                  | share          | share.see, Bob               | -
share-litres           | share          | share.see, Bob               | -
share-ask              | share          | -                            | share.see, Bob
my-share               |                | share.own                    | -
hand-out               |                | share.see                    | -
hand-out-act           | share          | -                            | share.handout?
hand-out-print         |                | share.see?                   | -
give-on                |                | share.handout?               | share.handout?
season-review          |                | season.totals                | -
season-close           |                | -                            | season.step
season-csv             | season list    | season.totals                | -
season-ledger          |                | audit.see                    | -
season-late            |                | season.change?               | -
season-late-entry      | late entry     | season.change?               | season.change?
service-worker         |                | open                         | -
manifest               |                | open                         | -
round-look             |                | open                         | -
round-shell            |                | open                         | -
round-no-signal        |                | open                         | -
round                  |                | former                       | -
round-pack             |                | former                       | -
round-outbox           |                | former                       | former
round-tree-photo       | tree           | trees.see?                   | -
round-photos           |                | -                            | former
public                 |                | open                         | -
public-file            | public file    | open                         | -
public-keep            |                | public.change                | public.change
my-tokens              |                | trees.see                    | trees.see
api                    |                | open                         | -
api-conformance        |                | open                         | -
api-openapi            |                | open                         | -
api-collections        |                | token                        | -
api-trees              |                | token                        | -
api-tree-items         |                | token                        | -
api-tree-item          | tree           | token                        | -
api-seasons            |                | token                        | -
api-season-totals      | season         | token                        | -
api-season-entries     | season         | token                        | -
api-nothing            | api path       | shut                         | shut
my-calendar            |                | in                           | in
calendar-feed          | calendar       | open                         | -
sign-in-ask            |                | -                            | shut
sign-in-code           |                | shut                         | shut
sign-in-passkey        |                | -                            | open
sign-in-passkey-begin  |                | -                            | open
devices-end-others     |                | -                            | in
passkey-add            |                | -                            | in
passkey-begin          |                | -                            | in
passkey-later          |                | -                            | in
passkey-remove         | passkey        | -                            | shut
rules-keep             |                | rules.keep                   | rules.keep
rules-missing          |                | rules.keep                   | -
house-rules            |                | be.booked                    | be.booked
house-rules-version    | version        | be.booked                    | -
notices                |                | notices.see                  | -
notice-new             |                | notices.write                | notices.write
notice                 | message        | notices.see, but Kai         | -
notice-edit            | message        | notices.write, but Kai       | notices.write, but Kai
notice-send            | message        | -                            | notices.send, but Kai
notice-drop            | message        | -                            | notices.write, but Kai
notice-letters         | message        | notices.write?, but Kai      | notices.write?, but Kai
notice-handed          | message        | -                            | notices.send?, but Kai
notice-again           | message        | -                            | notices.send?, but Kai
my-messages            |                | in                           | shut
person-messages        | person         | people.see                   | people.change?
owner-messages         | owner          | owners.see                   | owners.change?
no-messages            | way out        | shut                         | shut
paper                  |                | trees.see                    | -
paper-settings         |                | programme.change             | programme.change
label-sheet-new        |                | programme.change             | programme.change
label-sheet            | label sheet    | programme.change             | programme.change
paper-find             |                | trees.see                    | -
paper-slip             | slip           | open                         | -
paper-sheet-scan       |                | trees.see                    | -
paper-sheet            | round sheet    | round.see                    | collection.log
paper-job              | print job      | programme.change             | programme.change
paper-job-file         | print job      | programme.change?            | -
paper-print            | kind of paper  | trees.see                    | trees.see?
archive                |                | programme.archive            | programme.archive
archive-file           | archive        | programme.archive?           | -
entry-photo            | photo          | collection.see?              | -
"""


@dataclass(frozen=True)
class Door:
    name: str
    about: str
    get: str
    post: str

    @property
    def is_of_a_group(self) -> bool:
        return self.about in OF_A_GROUP


def _read() -> dict[str, Door]:
    doors = [Door(*(cell.strip() for cell in line.split("|"))) for line in LINES.strip().splitlines()]
    assert len({door.name for door in doors}) == len(doors), "an address stands twice in the table"
    return {door.name: door for door in doors}


DOORS = _read()
