"""Fleets that outgrow one machine: each plant loads by itself, only sums of its lives travel.

The design, and why it is no larger:

1. No life ever crosses a plant, so a plant's load stays on one machine. It leaves its clean logs,
   lives and places as Parquet files, one folder a site and application class (`partitions`), in a
   folder or an object store (`folder`). One list a site names the files that hold; replacing it
   is what makes a new writing valid. The edition stays as small as it is.
2. A fleet is the partitions of many plants. Three maps over them, each followed by a reduction:
   curves and failure sums of every atom (`atoms`) -> cells of the fleet, joint draws (`pool`);
   failures seen and expected of every place, counted in bins (`places`) -> how far places
   differ; forecasts of every place (`forecasts`) -> months of the fleet, the worst places
   (`worst`).
3. An atom is a site, an application class and a construction. It is never split and always summed
   by itself, in the order of its rows' contents; atoms are added in the order of their names. So
   results are the same to the last bit wherever and in whatever company an atom was summed, on
   processors of one kind. A place draws its random numbers by its name (`etl.life.streams`).
4. Executors (`executors`, `cluster`) know one verb: map a function of a module over tasks and give
   the results in the order of the tasks, each once. Here, in processes, or on a cluster.
5. All statistics are those of `etl.life`, `etl.build` and `etl.decide`.

What travels: a curve of 600 bytes an atom (twice where hoses were found failed at inspections), a
dozen numbers a mechanism, one (age, count) pair for each age at which failures of unknown
mechanism, or between two looks, occurred; later the draws of a class (1.6 kB a stratum), counts of
alike places, and 80 kB of monthly sums an atom. No row of a life does.

Limits: a partition's lives must fit the memory of a worker (about 150 bytes a life); failures of
unknown mechanism, and failures between two looks, are drawn one by one in the pooling, so millions
of them take time and memory there; only the worst places are listed, all others stay in the
editions of their own plants.
"""
