-- +goose Up

-- What a class is shown of itself, where its instructor has switched that on. What is
-- shown is kept as it was made, so that it does not move with every answer: from the
-- difference of two days somebody could read one student's answer.
create table together (
    class text primary key references classes (id) on delete cascade,
    shown integer not null check (shown in (0, 1)),
    page  text not null default '', -- JSON, counts alone; empty while there is too little
    made  text not null default ''  -- the time up to which answers are in it; empty before
) strict;
