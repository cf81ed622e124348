// Package group is the night of a group of sites:
//
//  1. each site's own night, as a site alone has it, under its own lock;
//  2. one fit of all sites' lamps (forecast.RunPool), which reads one site after the
//     other from its own tables and holds no more than one of them; or the same steps
//     done by an engine, a site a machine (Part), and handed over (Fitted);
//  3. the group's own tables, in the archive of the group's folder, and its pages.
//
// A site that fails is said, and the rest goes on: it counts as its last good night left
// it, or not at all where its tables are not of what there is now.
package group
