-- +goose Up

-- The misconceptions behind an answer as it was marked then, as a JSON list: the question
-- may be changed later. Null for an answer from before they were kept.
alter table answers add column beliefs text;
