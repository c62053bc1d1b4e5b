-- results.place_choices: one row per value that a filter of the table of all places offers. Reads results.place_list.
create or replace table results.place_choices as
with every_choice as (
    select distinct 'site' as filter, site as value from results.place_list
    union all select distinct 'line', line from results.place_list
    union all select distinct 'application_class', application_class from results.place_list
    union all select distinct 'construction', construction from results.place_list
    union all select distinct 'hazard', unnest(hazards) from results.place_list
)

select filter, value from every_choice
where value is not null and value <> ''
order by filter, value
