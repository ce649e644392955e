/* Hang order: along the principal axis of each site's fixtures, so that neighbours in the rig are neighbours in the patch. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "patch_internal.h"

#define SWEEPS 32                    /* of Jacobi rotations; 3x3 needs about six */
#define TIE_M 1e-9                   /* places this close along the axis are one */

/* One rotation that makes a[p][q] zero; v gathers the eigenvectors as columns. Source: C. G. J. Jacobi, 1846. */
static void rotate(double a[3][3], double v[3][3], int p, int q)
{
    double theta = (a[q][q] - a[p][p]) / (2 * a[p][q]);
    double t = (theta < 0 ? -1 : 1) / (fabs(theta) + hypot(theta, 1)), c = 1 / hypot(t, 1), s = t * c;
    for (int k = 0; k < 3; k++) {
        double kp = a[k][p], kq = a[k][q];
        a[k][p] = c * kp - s * kq;
        a[k][q] = s * kp + c * kq;
    }
    for (int k = 0; k < 3; k++) {
        double pk = a[p][k], qk = a[q][k], vp = v[k][p], vq = v[k][q];
        a[p][k] = c * pk - s * qk;
        a[q][k] = s * pk + c * qk;
        v[k][p] = c * vp - s * vq;
        v[k][q] = s * vp + c * vq;
    }
}

/* The eigenvector of the largest eigenvalue of a symmetric matrix. Where two are equally large, the first of x, y, z wins:
 * what is zero but for rounding must not turn the axes. */
static void principal(double a[3][3], double axis[3])
{
    double v[3][3] = { { 1, 0, 0 }, { 0, 1, 0 }, { 0, 0, 1 } }, small = 1e-12 * (a[0][0] + a[1][1] + a[2][2]);
    int best = 0;
    for (int sweep = 0; sweep < SWEEPS; sweep++)
        for (int p = 0; p < 2; p++)
            for (int q = p + 1; q < 3; q++)
                if (fabs(a[p][q]) > small)
                    rotate(a, v, p, q);
    for (int k = 1; k < 3; k++)
        if (a[k][k] > a[best][best] * (1 + 1e-9))
            best = k;
    for (int k = 0; k < 3; k++)
        axis[k] = v[k][best];
}

/* Point it towards growing values of its largest component. */
static void orient(double axis[3])
{
    int largest = 0;
    for (int k = 1; k < 3; k++)
        if (fabs(axis[k]) > fabs(axis[largest]) + 1e-9)
            largest = k;
    for (int k = 0; axis[largest] < 0 && k < 3; k++)
        axis[k] = k == largest ? axis[k] : -axis[k];
    axis[largest] = fabs(axis[largest]);
}

static const struct position *place(const struct patch *patch, uint32_t fixture)
{
    const struct position *pos = &patch->show->fixtures[fixture].pos;
    return position_given(pos) ? pos : NULL;
}

/* Axis of `count` items and the middle of their fixtures. @return false when fewer than two places are given */
static bool axis_of(const struct patch *patch, const struct patch_item *items, uint32_t count, double middle[3], double axis[3])
{
    double sum[3] = { 0 }, cov[3][3] = { { 0 } }, scale = 0;
    uint32_t given = 0;
    for (int pass = 0; pass < 3; pass++) {                   /* middle, largest distance from it, covariance */
        for (uint32_t i = 0; i < count; i++)
            for (uint32_t m = 0; m < items[i].count; m++) {
                const struct position *pos = place(patch, patch->members[items[i].first + m]);
                if (!pos)
                    continue;
                double d[3] = { pos->x_m, pos->y_m, pos->z_m };
                for (int k = 0; k < 3; k++) {
                    if (pass == 0)
                        sum[k] += d[k];
                    d[k] -= middle[k];
                    if (pass == 1)
                        scale = fmax(scale, fabs(d[k]));
                }
                given += pass == 0;
                for (int k = 0; pass == 2 && k < 9; k++)
                    cov[k / 3][k % 3] += d[k / 3] / scale * (d[k % 3] / scale);
            }
        for (int k = 0; pass == 0 && k < 3; k++)
            middle[k] = given ? sum[k] / given : 0;
        if (given < 2 || (pass == 1 && !(scale > 0 && isfinite(scale))))
            return false;
    }
    principal(cov, axis);
    orient(axis);
    return true;
}

/* ---- sorting ---- */

static int by_site(const void *a, const void *b)
{
    const struct patch_item *x = a, *y = b;
    return x->site != y->site ? (x->site > y->site) - (x->site < y->site) : (x->id > y->id) - (x->id < y->id);
}

static int by_place(const void *a, const void *b)
{
    const struct patch_item *x = a, *y = b;
    return x->along != y->along ? (x->along > y->along) - (x->along < y->along) : (x->id > y->id) - (x->id < y->id);
}

/* Sort along the axis. Then those that stand level but for rounding are made level, so that their ids decide. */
static void hang(const struct patch *patch, struct patch_item *items, uint32_t count)
{
    double middle[3] = { 0 }, axis[3];
    if (!axis_of(patch, items, count, middle, axis))
        return;
    for (uint32_t i = 0; i < count; i++) {
        const struct position *pos = place(patch, patch->members[items[i].first]);
        if (pos)
            items[i].along = (pos->x_m - middle[0]) * axis[0] + (pos->y_m - middle[1]) * axis[1] + (pos->z_m - middle[2]) * axis[2];
    }
    qsort(items, count, sizeof *items, by_place);
    for (uint32_t i = 1; i < count; i++)
        if (items[i].along - items[i - 1].along <= TIE_M)
            items[i].along = items[i - 1].along;
    qsort(items, count, sizeof *items, by_place);
}

/* Sites in the order of the show; then those that it does not define, by name; fixtures without a site last. */
static int by_name(const void *a, const void *b)
{
    const char *const *x = a, *const *y = b;
    return strcmp(*x, *y);
}

static int rank_sites(struct patch *patch)
{
    const struct show *show = patch->show;
    const char **names = patch__alloc(patch, patch->item_count, sizeof *names);
    uint32_t count = 0, kept = 0;
    if (!names)
        return RIG_ENOMEM;
    for (uint32_t i = 0; i < patch->item_count; i++) {
        const struct fixture *fixture = &show->fixtures[patch->members[patch->items[i].first]];
        if (fixture->site && fixture->site_index == SHOW_UNKNOWN)
            names[count++] = fixture->site;
    }
    qsort(names, count, sizeof *names, by_name);
    for (uint32_t i = 0; i < count; i++)
        if (i == 0 || names[i] != names[kept - 1])           /* interned: one name is one pointer */
            names[kept++] = names[i];
    for (uint32_t i = 0; i < patch->item_count; i++) {
        const struct fixture *fixture = &show->fixtures[patch->members[patch->items[i].first]];
        const char **found = fixture->site ? bsearch(&fixture->site, names, kept, sizeof *names, by_name) : NULL;
        patch->items[i].site = fixture->site_index != SHOW_UNKNOWN ? fixture->site_index
                             : show->site_count + (found ? (uint32_t)(found - names) : kept);
    }
    patch->site_count = show->site_count + kept + 1;
    return 0;
}

int patch__order(struct patch *patch)
{
    int err = rank_sites(patch);
    if (err)
        return err;
    qsort(patch->items, patch->item_count, sizeof *patch->items, by_site);
    for (uint32_t i = 0, end; i < patch->item_count && !patch->options->by_id; i = end) {
        for (end = i + 1; end < patch->item_count && patch->items[end].site == patch->items[i].site; end++)
            ;
        hang(patch, patch->items + i, end - i);
    }
    return 0;
}
