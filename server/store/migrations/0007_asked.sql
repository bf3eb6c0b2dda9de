-- +goose Up

-- What a student asks the instructor of a class. It goes with the student, and with it
-- everything that was answered to the student alone.
create table asked (
    id     text primary key check (id <> ''),
    class  text not null references classes (id) on delete cascade,
    person text not null references people (visitor) on delete cascade,
    kind   text not null check (kind in ('lesson', 'scenario', 'batch')),
    about  text not null check (about <> ''), -- the slug of the lesson or scenario, the id of the batch
    seed   integer not null default 0,        -- which case of the scenario
    text   text not null check (text <> ''),
    at     text not null,
    seen   integer not null default 0         -- the version of the answer that the student has seen
) strict;

create index asked_by_class on asked (class);
create index asked_by_person on asked (person, kind, about);

-- An answer that is changed is added under the next version; the last one counts.
create table asked_answers (
    asked   text not null references asked (id) on delete cascade,
    version integer not null check (version >= 1),
    text    text not null check (text <> ''),
    at      text not null,
    primary key (asked, version)
) strict;

-- What the class sees of a question: the instructor's wording and the last answer,
-- copied, and nothing of who asked. So it stays when the student goes.
create table asked_shared (
    id     text primary key, -- of the question, which may be gone
    class  text not null references classes (id) on delete cascade,
    kind   text not null check (kind in ('lesson', 'scenario', 'batch')),
    about  text not null, -- empty for a batch: it would tell whose it is
    text   text not null check (text <> ''),
    answer text not null check (answer <> ''),
    at     text not null
) strict;

create index asked_shared_by_class on asked_shared (class, kind, about);
