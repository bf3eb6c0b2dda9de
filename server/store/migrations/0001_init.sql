-- +goose Up

-- Marks the file as ours ("RBcn"), so that the database of another program is
-- refused and not filled with our tables.
pragma application_id = 1380082542;

-- One row for whoever has anything below. A visitor is known by a random id
-- only.
create table visitors (
    id          text primary key check (id <> ''),
    altitude_ft real
) strict;

create table answers (
    id       integer primary key,
    visitor  text not null references visitors (id) on delete cascade,
    question text not null check (question <> ''),
    lesson   text not null,
    given    text not null, -- JSON array of strings, in the order given
    correct  integer not null check (correct in (0, 1)),
    at       text not null
) strict;

create index answers_by_visitor on answers (visitor, at);

create table plans (
    id      text primary key check (id <> ''),
    visitor text not null references visitors (id) on delete cascade,
    title   text not null,
    plan    blob not null, -- the plan file, byte for byte
    report  blob not null, -- the report, byte for byte, as given on that day
    verdict text not null,
    at      text not null
) strict;

create index plans_by_visitor on plans (visitor, at);

create table attempts (
    id       text primary key check (id <> ''),
    visitor  text not null references visitors (id) on delete cascade,
    scenario text not null check (scenario <> ''),
    plan     blob not null,
    report   blob not null,
    verdict  text not null,
    passed   integer not null check (passed in (0, 1)),
    at       text not null
) strict;

create index attempts_by_visitor on attempts (visitor, at);

create table sessions (
    token   text primary key,
    data    blob not null,
    expires text not null
) strict;

create index sessions_by_expiry on sessions (expires);
