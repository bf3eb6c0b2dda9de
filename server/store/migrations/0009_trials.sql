-- +goose Up

-- The instructor's own question, put to two or more ways of canning. Everything about
-- a trial is only ever added to: a mistake is replaced by a further entry, which says
-- what it replaces.
create table trials (
    id       text primary key check (id <> ''),
    class    text not null references classes (id) on delete cascade,
    question text not null check (question <> ''),
    made     text not null
) strict;

create index trials_by_class on trials (class, made);

-- The ways that are compared. The first is the one that the others are held against.
create table trial_variants (
    trial   text not null references trials (id) on delete cascade,
    n       integer not null check (n > 0),
    name    text not null check (name <> ''),
    plan    blob not null, -- the plan file
    lids    text not null, -- kind or lot, in the instructor's own words
    verdict text not null, -- on the day it was made
    version text not null, -- of the rules and the table it was judged by then
    made    text not null,
    primary key (trial, n)
) strict;

-- Loads: entered by the instructor, or linked from a student's accepted batch. A void
-- entry replaces one that should not have been there.
create table trial_entries (
    trial    text not null references trials (id) on delete cascade,
    n        integer not null check (n > 0),
    form     text not null check (form <> ''), -- of the form it was sent with, so that one sent twice is kept once
    variant  integer not null,
    kind     text not null check (kind in ('typed', 'linked', 'void')),
    replaces integer,                                        -- the entry that it corrects
    batch    text references batches (id) on delete set null, -- of a linked one; null once its student deleted it
    load     text not null,                                  -- JSON: what was seen, of a typed one
    why      text not null,                                  -- what was amiss with the one it replaces
    at       text not null,
    primary key (trial, n),
    unique (trial, form),
    unique (trial, replaces), -- one is replaced once; what comes after replaces its successor
    foreign key (trial, variant) references trial_variants (trial, n),
    foreign key (trial, replaces) references trial_entries (trial, n)
) strict;

create index trial_entries_by_batch on trial_entries (batch);

-- What was decided: the class may see it, or no longer; a way was set aside.
create table trial_events (
    id      integer primary key,
    trial   text not null references trials (id) on delete cascade,
    what    text not null check (what in ('shown', 'hidden', 'set-aside')),
    variant integer not null, -- 0 for the whole trial
    says    text not null,
    at      text not null
) strict;

create index trial_events_by_trial on trial_events (trial, id);
