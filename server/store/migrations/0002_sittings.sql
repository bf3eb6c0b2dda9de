-- +goose Up

-- What a question was drawn with, and the sitting it was answered in.
alter table answers add column seed integer not null default 0;
alter table answers add column sitting text not null default '';

-- The day the visitor means to can, as 2026-08-20, and the zone whose midnight
-- ends a day; both empty until the visitor says them.
alter table visitors add column canning_day text not null default '';
alter table visitors add column time_zone text not null default '';

-- A set of questions, answered one by one and handed in once.
create table sittings (
    id        text primary key check (id <> ''),
    visitor   text not null references visitors (id) on delete cascade,
    title     text not null,
    questions text not null, -- JSON array of {"question", "seed"}, in the order asked
    begun     text not null,
    submitted text -- null until it is handed in
) strict;

create index sittings_by_visitor on sittings (visitor, begun);

create table sitting_answers (
    sitting text not null references sittings (id) on delete cascade,
    place   integer not null check (place >= 0), -- of the question, from 0
    given   text not null, -- JSON array of strings
    at      text not null,
    primary key (sitting, place)
) strict;
